// Text to checked columns, beside std::from_chars alone on the same bytes in the same run. Seven columns of a capture
// as a recorder writes it. Prints rates and ratios, and compares every number bit for bit.
#include <fmt/format.h>

#include <array>
#include <bit>
#include <charconv>
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <ctime>
#include <filesystem>
#include <memory>
#include <string>
#include <vector>

#include "best_time.h"
#include "goal.h"
#include "recording/import.h"
#include "recording/table.h"

namespace {

std::string capture_text(std::size_t rows) {
  std::string text = "t_s,ref_a_mm,ref_b_mm,pos_a_mm,pos_b_mm,out_a_pct,out_b_pct\n";
  text.reserve(rows * 62);
  for (std::size_t k = 0; k < rows; ++k) {
    const double t = 0.0002 * static_cast<double>(k), x = 450 * (1 - std::cos(2.1 * t));
    fmt::format_to(std::back_inserter(text), "{:.4f},{:.5f},{:.5f},{:.5f},{:.5f},{:.3f},{:.3f}\n", t, x, x + 0.0075,
                   x - 0.5 * std::sin(3 * t), x + 0.0041 - 0.51 * std::sin(3 * t), 20 * std::cos(2.1 * t),
                   18 * std::cos(2.1 * t) + 0.2);
  }
  return text;
}

// What the columns are compared with.
std::vector<std::vector<double>> by_from_chars(const std::string& text) {
  std::vector<std::vector<double>> columns(7);
  for (auto& column : columns) column.reserve(text.size() / 56);
  const char* p = text.data() + text.find('\n') + 1;
  const char* const end = text.data() + text.size();
  while (p < end)
    for (auto& column : columns) {
      double value = 0;
      p = std::from_chars(p, end, value).ptr + 1;
      column.push_back(value);
    }
  return columns;
}

// The same without keeping the numbers: the parse alone.
double sum_by_from_chars(const std::string& text) {
  double sum = 0;
  const char* const end = text.data() + text.size();
  for (const char* p = text.data() + text.find('\n') + 1; p < end;) {
    double value = 0;
    p = std::from_chars(p, end, value).ptr + 1;
    sum += value;
  }
  return sum;
}

// A parse written for this text alone: digit by digit, one exact division; checked are digits, their number and what
// follows them. Exact, since every mantissa is below 10^15 < 2^53 and the powers of ten are exact (W. Clinger 1990).
double sum_by_hand(const std::string& text) {
  constexpr std::array<double, 16> power{1,   1e1, 1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                         1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15};
  double sum = 0;
  const char* const end = text.data() + text.size();
  for (const char* p = text.data() + text.find('\n') + 1; p < end; ++p) {
    const bool minus = *p == '-';
    p += minus;
    std::int64_t digits = 0;
    const auto take = [&] {
      const char* const first = p;
      for (unsigned d; (d = static_cast<unsigned>(*p) - '0') < 10; ++p) digits = 10 * digits + d;
      return static_cast<std::size_t>(p - first);
    };
    const std::size_t whole = take();
    std::size_t places = 0;
    if (*p == '.') ++p, places = take();
    if (whole + places == 0 || whole + places > 15 || (*p != ',' && *p != '\n')) return std::nan("");
    const double value = static_cast<double>(digits) / power[places];
    sum += minus ? -value : value;
  }
  return sum;
}

// Processor time, so that neighbours on a shared machine count little.
template <class Work>
double best_mb_per_s(std::size_t bytes, Work work) {
  return 1e-6 * static_cast<double>(bytes) / evenbeam::bench::best_s(5, work);
}

std::size_t different_bits(const std::vector<std::vector<double>>& a, const std::vector<std::vector<double>>& b) {
  std::size_t different = 0;
  for (std::size_t c = 0; c < a.size(); ++c)
    for (std::size_t k = 0; k < a[c].size(); ++k)
      different += std::bit_cast<std::uint64_t>(a[c][k]) != std::bit_cast<std::uint64_t>(b[c][k]);
  return different;
}

}  // namespace

int main() {
  using namespace evenbeam::recording;
  const std::string text = capture_text(1000000);
  const auto path = std::filesystem::temp_directory_path() / "evenbeam_import_bench.csv";
  std::unique_ptr<std::FILE, int (*)(std::FILE*)> file(std::fopen(path.c_str(), "w+b"), &std::fclose);
  if (!file || std::fwrite(text.data(), 1, text.size(), file.get()) != text.size()) {
    fmt::print(stderr, "import_bench: cannot write {}\n", path.string());
    return 1;
  }
  std::setvbuf(file.get(), nullptr, _IONBF, 0);
  std::vector<std::vector<double>> reference;
  Table table, streamed;
  ImportResult imported;
  double sum = 0;
  const double from_chars = best_mb_per_s(text.size(), [&] { sum += sum_by_from_chars(text); });
  double hand_sum = 0;
  const double hand = best_mb_per_s(text.size(), [&] { hand_sum += sum_by_hand(text); });
  reference = by_from_chars(text);
  const double memory = best_mb_per_s(text.size(), [&] { table = read_table(text, "bench.csv"); });
  const double stream = best_mb_per_s(text.size(), [&] {
    std::rewind(file.get());
    streamed = read_table([&](char* buffer, std::size_t room) { return std::fread(buffer, 1, room, file.get()); },
                          "bench.csv");
  });
  evenbeam::machine::Machine machine;
  machine.a.peak_force_n = machine.b.peak_force_n = 2000;
  const double whole =
      best_mb_per_s(text.size(), [&] { imported = import_recording("bench.csv", text, nullptr, machine); });
  std::filesystem::remove(path);
  fmt::print("import: {} MB, {} rows of 7 numbers, one core, processor time, best of five\n", text.size() / 1000000,
             table.rows);
  fmt::print("  std::from_chars, sum only  {:7.0f} MB/s  (mean {:.3f})\n", from_chars,
             sum / (35.0 * static_cast<double>(table.rows)));
  fmt::print("  parse by hand, sum only    {:7.0f} MB/s  {:.2f} times from_chars; sums differ by {:.1e}\n", hand,
             hand / from_chars, std::abs(hand_sum - sum));
  fmt::print("  memory to checked columns  {:7.0f} MB/s  {:.2f} times from_chars\n", memory, memory / from_chars);
  fmt::print("  file to checked columns    {:7.0f} MB/s  {:.2f} times from_chars (goal: 300 MB/s)\n", stream,
             stream / from_chars);
  fmt::print("  memory to whole recording  {:7.0f} MB/s  with SHA-256, checks, kind of run\n", whole);
  const std::size_t different =
      different_bits(reference, table.columns) + different_bits(reference, streamed.columns);
  fmt::print("  numbers that differ from from_chars in any bit: {}\n", different);
  evenbeam::bench::tell_goal("W3", "file to checked columns / parse by hand, speed", stream / hand,
                             evenbeam::bench::Goal::at_least, 0.75);
  return different == 0 && hand_sum == sum ? 0 : 1;
}
