// Broken recording files, each with what its message must say; and that no bytes whatever do more than that.
#include "recording/table.h"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <cmath>
#include <cstring>
#include <random>

#include "base/input_error.h"
#include "base/message_of_test.h"
#include "recording/import.h"
#include "recording/synthetic_test.h"

namespace evenbeam::recording {
namespace {

std::string message_of(const std::string& bytes) {
  return base::test::message_of([&] { import_recording("x.csv", bytes, nullptr, test::machine()); });
}

const std::string kHeader = "t_s,pos_a_mm,pos_b_mm\n";
std::string rows(int count) {
  std::string text;
  for (int k = 0; k < count; ++k) text += fmt::format("{:.3f},{:.4f},{:.4f}\n", 0.001 * k, 0.0005 * k, -0.0005 * k);
  return text;
}

struct Broken {
  std::string what, bytes;
  std::vector<std::string> says;
};

std::vector<Broken> broken_files() {
  const std::string start = kHeader + rows(5);
  std::string utf16 = "\xFF\xFE";
  for (char c : kHeader + rows(3)) utf16 += {c, '\0'};
  return {
      {"nothing", "", {"an empty file", "Export the recording again"}},
      {"white space", " \r\n\n\t\n", {"an empty file"}},
      {"separators alone", ";\n", {"nothing but blanks and separators"}},
      {"header alone", kHeader, {"x.csv:1", "no rows of numbers"}},
      {"header and words", kHeader + "none,none,none\n", {"x.csv:2", "no rows of numbers"}},
      {"one column", "pos_a_mm\n1\n2\n3\n", {"no rows of numbers", "at least two numbers"}},
      {"UTF-16", utf16, {"UTF-16", "UTF-8"}},
      {"UTF-16 without mark", utf16.substr(2), {"UTF-16"}},
      {"binary", std::string("RIFF\x24\x01\x00\x00WAVE", 12), {"byte 0x01", "text file"}},
      {"zeros", kHeader + std::string(40, '\0'), {"x.csv:2", "byte 0x00"}},
      {"carriage returns alone", "t_s,pos_a_mm,pos_b_mm\r0,1,2\r1,2,3\r", {"carriage return alone"}},
      {"clock times", kHeader + "12:00:00.000,1,2\n12:00:00.001,2,3\n", {"12:00:00.001", "no rows of numbers"}},
      {"a word", start + "0.005,oops,0\n" + rows(5), {"x.csv:7", "\"oops\" in cell 2 (pos_a_mm)", "a finite number"}},
      {"infinity", start + "0.005,inf,0\n0.006,1,2\n", {"x.csv:7", "\"inf\""}},
      {"out of range", start + "0.005,1e999,0\n0.006,1,2\n", {"x.csv:7", "\"1e999\""}},
      {"two points", start + "0.005,1.2.3,0\n0.006,1,2\n", {"x.csv:7", "\"1.2.3\""}},
      {"row too short", start + "0.005,1\n0.006,1,2\n", {"x.csv:7", "2 cells", "3 as in line 2"}},
      {"row too long", start + "0.005,1,2,3\n0.006,1,2\n", {"x.csv:7", "4 cells", "3 as in line 2"}},
      {"short first row", kHeader + "0.000,1\n" + rows(9), {"x.csv:2", "2 numbers", "3, as in the rows"}},
      {"second header", start + kHeader + rows(5), {"x.csv:7", "\"t_s\" in cell 1", "split the file here"}},
      {"too few names",
       "t_s,pos_a_mm,pos_b_mm\n0,1,2,3\n1,2,3,4\n2,3,4,5\n",
       {"x.csv:1", "3 names over rows of 4 numbers"}},
      {"too many names",
       "t_s,pos_a_mm,pos_b_mm,out_a_pct\n0,1,2\n1,2,3\n2,3,4\n",
       {"4 names over rows of 3 numbers"}},
      {"several words", start + "a,1,2\nb,1,2\n0.007,c,2\n0.008,1,2\n", {"x.csv:7", "x.csv:8", "x.csv:9"}},
      {"doubtful commas",
       "t_s;pos_a_mm;pos_b_mm\n1,000;1,234;5,678\n2,000;2,345;6,789\n",
       {"x.csv:2", "part thousands", "decimal = \",\""}},
      {"time runs back",
       start + "0.002,1,2\n0.003,1,2\n",
       {"x.csv:7", "time 0.002 s after 0.004 s", "split it here"}},
      {"time missing", start + ",1,2\n0.006,1,2\n", {"x.csv:7", "no time"}},
      {"time stands still", kHeader + "0,1,2\n0,2,3\n0,3,4\n", {"stands still"}},
      {"two rows", kHeader + "0.000,1,2\n0.001,2,3\n", {"2 rows", "at least three rows"}},
      {"a pause of hours", start + "7200.0,1,2\n7200.001,1,2\n", {"x.csv:7", "gap of"}},
      {"many pauses",
       start + "0.040,1,2\n0.080,1,2\n0.120,1,2\n0.160,1,2\n0.161,1,2\n0.162,1,2\n0.163,1,2\n",
       {"x.csv:10", "gap of"}},
      {"no position", "t_s,out_a_pct,out_b_pct\n" + rows(5), {"no column with a position"}},
      {"speeds alone", "t_s,vel_a,vel_b\n" + rows(5), {"no column with a position"}},
  };
}

}  // namespace

TEST_CASE("broken files get messages that name place, fault and next step") {
  const auto files = broken_files();
  CHECK(files.size() >= 25);
  for (const Broken& file : files) {
    const std::string message = message_of(file.bytes);
    INFO(file.what << ": " << message);
    CHECK(message.find("x.csv") == 0);
    for (const std::string& part : file.says) CHECK_MESSAGE(message.find(part) != std::string::npos, part);
  }
}

TEST_CASE("a cut last line loses only itself") {
  const std::string whole = kHeader + rows(50);
  for (std::size_t cut = 1; cut < 22; ++cut) {
    const std::string bytes = whole.substr(0, whole.size() - cut);
    INFO("cut " << cut << ": " << bytes.substr(bytes.rfind('\n') + 1));
    const Recording r = import_recording("x.csv", bytes, nullptr, test::machine()).recording;
    const bool complete = cut == 1;  // only the line end is missing
    const bool said = !r.findings.empty() && r.findings.front().id == "import_cut_line";
    CHECK(r.time_s.size() == (complete ? 50u : 49u));
    CHECK(said == (!complete && bytes.back() != '\n'));
  }
}

TEST_CASE("blank lines, gaps, repeats and jitter are seen") {
  const auto ids_of = [](const std::string& bytes) {
    std::string ids;
    const Recording r = import_recording("x.csv", bytes, nullptr, test::machine()).recording;
    for (const auto& finding : r.findings) ids += finding.id + " ";
    return std::pair(ids, r);
  };
  const std::string plain = kHeader + rows(100);
  CHECK(ids_of(plain).first.find("import_gaps") == std::string::npos);
  CHECK(ids_of(kHeader + rows(100) + "\n\n").second.time_s.size() == 100);

  std::string gap = plain;
  gap.erase(gap.find("0.040,"), gap.find("0.043,") - gap.find("0.040,"));
  const auto [gap_ids, gap_recording] = ids_of(gap);
  CHECK(gap_ids.find("import_gaps") != std::string::npos);
  REQUIRE(gap_recording.time_s.size() == 100);
  CHECK(std::isnan(gap_recording.position_a_m[41]));
  CHECK(std::abs(gap_recording.position_a_m[43] - 0.0005e-3 * 43) < 1e-10);

  std::string twice = plain;
  const std::string line = plain.substr(plain.find("0.040,"), plain.find("0.041,") - plain.find("0.040,"));
  twice.insert(twice.find("0.041,"), line);
  const auto [twice_ids, twice_recording] = ids_of(twice);
  CHECK(twice_ids.find("import_repeats") != std::string::npos);
  CHECK(twice_recording.time_s.size() == 100);

  std::mt19937_64 random(3);
  std::string jitter = kHeader;
  for (int k = 0; k < 200; ++k)
    jitter += fmt::format("{:.6f},{:.4f},0\n",
                          0.001 * k + 0.0002 * (static_cast<double>(random() % 1000) / 1000 - 0.5), 0.0005 * k);
  CHECK(ids_of(jitter).first.find("import_jitter") != std::string::npos);
}

TEST_CASE("a stream gives what memory gives, wherever the buffer ends") {
  const test::Capture capture = test::capture(1.0 / 20000);
  for (const bool last_line_end : {true, false}) {
    test::Form form;
    form.last_line_end = last_line_end;
    const std::string bytes = test::text_of(capture, form);
    REQUIRE(bytes.size() > 600 * 1024);
    std::size_t at = 0;
    std::size_t piece = 1000;
    const base::ByteSource source = [&](char* buffer, std::size_t room) {
      const std::size_t got = std::min({room, piece, bytes.size() - at});
      std::memcpy(buffer, bytes.data() + at, got);
      at += got;
      piece = piece * 7 % 9973 + 1;
      return got;
    };
    const Table streamed = read_table(source, "x.csv"), whole = read_table(bytes, "x.csv");
    CHECK(streamed.columns == whole.columns);
    CHECK(streamed.rows == capture.position_a_m.size());
    CHECK(streamed.bytes == bytes.size());

    // A part of it kept: the same rows from the beginning, the others read and counted.
    at = 0;
    const std::size_t kept = 1000, columns = whole.columns.size();
    const Table part = read_table(source, "x.csv", {}, kept * columns + columns - 1);
    CHECK(part.rows == kept);
    CHECK(part.rows_beyond == whole.rows - kept);
    CHECK(at == bytes.size());
    for (std::size_t c = 0; c < columns; ++c)
      CHECK(std::equal(part.columns[c].begin(), part.columns[c].end(), whole.columns[c].begin()));
    CHECK(part.columns.front().size() == kept);
  }
}

TEST_CASE("random damage is read or refused, never anything else") {
  const std::uint64_t seed = 99;
  std::mt19937_64 random(seed);
  test::Form form;
  form.before = "Recorder rate: 2000 Hz\nUnits: s, mm, %\n";
  const std::string start = test::text_of(test::capture(0.004), form);
  const std::string odd = std::string(1, '\0') +
                          "\n\r\t;,.\"-+eE%[]() nN\xFF\xC2\xB5"
                          "0919";
  int refused = 0;
  for (int i = 0; i < 3000; ++i) {
    std::string bytes = start;
    for (std::uint64_t n = random() % 6 + 1; n-- > 0 && !bytes.empty();) {
      const std::size_t at = random() % bytes.size(), length = random() % 40;
      switch (random() % 4) {
        case 0:
          bytes[at] = odd[random() % odd.size()];
          break;
        case 1:
          bytes.erase(at, length);
          break;
        case 2:
          bytes.insert(at, bytes.substr(random() % bytes.size(), length));
          break;
        default:
          bytes.resize(random() % 8 == 0 ? at : bytes.size());
          break;
      }
    }
    INFO("seed " << seed << " case " << i);
    try {
      const Recording r = import_recording("x.csv", bytes, nullptr, test::machine()).recording;
      CHECK(r.period_s > 0);
    } catch (const base::InputError& error) {
      ++refused;
      CHECK(std::string(error.what()).find("x.csv") == 0);
    }
  }
  CHECK(refused > 100);
  CHECK(refused < 3000);
}

}  // namespace evenbeam::recording
