#include "workflow/first_day.h"

#include <algorithm>

#include "base/check.h"
#include "base/embedded.h"
#include "base/input_error.h"
#include "machine/toml_reader.h"
#include "workflow/demo_files.h"
#include "workflow/gates.h"

extern "C" const evenbeam::base::EmbeddedEntry evenbeam_first_day_files[];

namespace evenbeam::workflow {
namespace {

using Files = std::vector<base::EmbeddedFile>;

std::string bytes_of(const Files& files, const std::string& path) {
  const auto it = std::find_if(files.begin(), files.end(), [&](const auto& file) { return file.path == path; });
  base::check(it != files.end(), "the first day names a file that is there: " + path);
  return std::string(it->bytes);
}

struct FromTo {
  std::string from, to;
};
FromTo from_to(const std::string& words) {
  const std::size_t as = words.find(" as ");
  base::check(as != std::string::npos, "the first day says 'from as to': " + words);
  return {words.substr(0, as), words.substr(as + 4)};
}

// The folder as this step leaves it.
class Folder {
 public:
  Folder(base::Disk& disk, std::string job)
      : disk_(disk),
        job_(std::move(job)),
        day_(base::embedded_files(evenbeam_first_day_files)),
        demo_(demo_files()) {}

  void take(const DayStep& step) {
    for (const std::string& path : step.put_demo) put_demo(path);
    for (const std::string& words : step.put) write(from_to(words).to, bytes_of(day_, from_to(words).from));
    for (const std::string& words : step.turned)
      write(from_to(words).to, with_column_turned(bytes_of(demo_, from_to(words).from), "out_b_pct"));
    for (const std::string& words : step.add) {
      const auto [from, to] = from_to(words);
      write(to, disk_.read(base::join_path(job_, to)) + bytes_of(day_, from));
    }
    std::string sheet;
    for (const std::string& piece : step.ready) sheet += bytes_of(day_, piece);
    if (!sheet.empty()) write("ready.toml", sheet);
  }

 private:
  void put_demo(const std::string& path) {
    if (!path.ends_with("*")) return write(path, bytes_of(demo_, path));
    for (const base::EmbeddedFile& file : demo_)
      if (file.path.starts_with(path.substr(0, path.size() - 1)))
        write(std::string(file.path), std::string(file.bytes));
  }
  void write(const std::string& file, const std::string& bytes) {
    const std::string path = base::join_path(job_, file);
    disk_.make_folder(base::folder_of(path));
    disk_.write(path, bytes);
  }

  base::Disk& disk_;
  std::string job_;
  Files day_, demo_;
};

std::vector<std::string> list_of(machine::TableReader& t, const char* key) {
  return t.texts(key, "[\"file\"]").value_or(std::vector<std::string>{});
}

DayPlayed look(const DayStep& step, Commissioned done) {
  DayPlayed played{.step = step, .done = std::move(done)};
  const base::StationResult* station = find_station(played.done.evaluation, step.caught_station);
  if (station == nullptr) return played;
  const auto open = open_stops(played.done.evaluation, *station);
  played.caught = std::find(open.begin(), open.end(), step.caught_stop) != open.end();
  if (played.caught) played.caught_words = base::find_finding(*station, step.caught_stop)->text;
  return played;
}

}  // namespace

std::string with_column_turned(const std::string& csv, const std::string& column) {
  std::string out;
  std::size_t wanted = 0;
  for (std::size_t at = 0, row = 0; at < csv.size(); ++row) {
    const std::size_t end = std::min(csv.find('\n', at), csv.size());
    const std::string line = csv.substr(at, end - at);
    at = end + 1;
    if (row == 0) {
      const std::size_t place = line.find(column);
      base::check(place != std::string::npos, "the capture has the column " + column);
      wanted = static_cast<std::size_t>(std::count(line.begin(), line.begin() + static_cast<long>(place), ','));
      out += line + "\n";
      continue;
    }
    std::size_t cell = 0;
    for (std::size_t i = 0; i < wanted; ++i) cell = line.find(',', cell) + 1;
    const bool negative = line[cell] == '-';
    out += line.substr(0, cell) + (negative ? "" : "-") + line.substr(cell + (negative ? 1 : 0)) + "\n";
  }
  return out;
}

std::vector<DayStep> first_day() {
  const Files files = base::embedded_files(evenbeam_first_day_files);
  const toml::table root = machine::parse_toml(bytes_of(files, "day.toml"), "day.toml");
  std::vector<base::Trouble> troubles;
  machine::TableReader t(root, "", "day.toml", troubles);
  t.require_format("evenbeam.day/1");
  std::vector<DayStep> steps;
  for (machine::TableReader& one : t.tables("step")) {
    DayStep step{.at = one.text("at", "07:30").value_or(""),
                 .what = one.text("what", "The rails are measured.").value_or(""),
                 .ready = list_of(one, "ready"),
                 .put = list_of(one, "put"),
                 .add = list_of(one, "add"),
                 .turned = list_of(one, "turned"),
                 .put_demo = list_of(one, "put_demo"),
                 .wrong = one.text("wrong", "the rails are not parallel").value_or("")};
    const std::string caught = one.text("caught", "ready.rail_parallelism").value_or("");
    step.caught_station = caught.substr(0, caught.find('.'));
    if (!caught.empty()) step.caught_stop = caught.substr(caught.find('.') + 1);
    steps.push_back(std::move(step));
    one.close();
  }
  t.close();
  machine::throw_if_any(std::move(troubles));
  return steps;
}

std::vector<DayPlayed> play_first_day(base::Disk& disk, const CommissionRequest& request, const AfterStep& after,
                                      const Progress& progress) {
  if (disk.has_folder(request.places.job))
    throw base::InputError({.file = request.places.job,
                            .found = "a folder that is already there",
                            .expected = "a new one: the day begins with bare rails",
                            .next = "Name another: evenbeam demo DIR --first-day. Nothing was changed."});
  Folder folder(disk, request.places.job);
  std::vector<DayPlayed> played;
  for (const DayStep& step : first_day()) {
    folder.take(step);
    played.push_back(look(step, commission(disk, request, stations(), progress)));
    after(played.back());
  }
  return played;
}

}  // namespace evenbeam::workflow
