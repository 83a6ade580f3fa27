#pragma once
// A TOML file read key by key, with every trouble collected so that the person corrects the file in one go. Used for
// all TOML files of a job. Values with a dimension are text with their unit ("2.2 m"); plain numbers are for what has
// none. Each question names a plausible range and a right example, which go into the message where the answer is
// wrong. A key that nobody asked for is reported as unknown, with the nearest one that exists.
#include <toml++/toml.h>

#include <initializer_list>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "base/input_error.h"

namespace evenbeam::machine {

// The parsed file. Throws InputError with line and column where the text is not TOML.
toml::table parse_toml(const std::string& text, const std::string& file_name);

// Throws InputError with all of them, in the order of the file. Does nothing where there are none.
void throw_if_any(std::vector<base::Trouble> troubles);

// Both ends belong to it, in SI.
struct Plausible {
  double low = 0, high = 0;
};

// Guards: each key of the table is either asked for or reported by close(). Refers to `table` and `troubles`, which
// outlive it. Questions answer nullopt where the key is absent or wrong; a wrong one leaves a trouble behind.
class TableReader {
 public:
  TableReader(const toml::table& table, std::string name, std::string file_name, std::vector<base::Trouble>& troubles)
      : table_(table), name_(std::move(name)), file_name_(std::move(file_name)), troubles_(troubles) {}

  // SI value of text like "20 mm". `example` is right text without the quotes: "20 mm".
  std::optional<double> quantity(std::string_view key, std::string_view si_unit, Plausible range,
                                 std::string_view example);
  // A plain number, or text without dimension ("49.7 %").
  std::optional<double> number(std::string_view key, Plausible range, std::string_view example);
  std::optional<int> whole_number(std::string_view key, Plausible range, std::string_view example);
  std::optional<std::string> text(std::string_view key, std::string_view example);
  // A list of texts on one or several lines. `example` is the whole list: ["time s", "position_a mm"].
  std::optional<std::vector<std::string>> texts(std::string_view key, std::string_view example);
  std::optional<bool> yes_no(std::string_view key);
  // One of some words, each standing for a value.
  template <class T>
  std::optional<T> choice(std::string_view key, std::initializer_list<std::pair<std::string_view, T>> words) {
    std::vector<std::string_view> names;
    for (const auto& [word, value] : words) names.push_back(word);
    const std::optional<size_t> index = choice_index(key, names);
    return index ? std::optional<T>((words.begin() + *index)->second) : std::nullopt;
  }
  std::optional<TableReader> table(std::string_view key);  // [key]
  TableReader table_or_empty(std::string_view key);        // the same, with nothing in it where absent or no table
  std::vector<TableReader> tables(std::string_view key);   // [[key]], or a list of inline tables
  std::vector<std::string> keys() const;  // as in the file, for tables whose keys are names of things

  bool has(std::string_view key) const { return table_.contains(key); }
  const std::string& name() const { return name_; }
  // A trouble at the key's value, for rules that involve several keys. `found` defaults to 'key = value'.
  void refuse(std::string_view key, std::string expected, std::string next, std::string found = {});
  // A trouble at the table as a whole: something needed is missing.
  void missing(std::string_view key, std::string expected, std::string_view example);
  // Asks for `format`; absent is taken as `wanted`. Another format or version throws at once, since nothing else in
  // such a file can be judged.
  void require_format(std::string_view wanted);
  // Reports what nobody asked for. To be called once, after the last question. `elsewhere` are readers of the same
  // file, so that a key under the wrong heading is sent to the right one.
  void close(const std::vector<const TableReader*>& elsewhere = {});

 private:
  struct Asked {
    std::string key, example;
  };
  const toml::node* ask(std::string_view key, std::string_view example);
  std::optional<size_t> choice_index(std::string_view key, const std::vector<std::string_view>& words);
  std::optional<double> within(std::string_view key, double value, std::string_view si_unit, Plausible range,
                               std::string_view example);
  std::string right(std::string_view key) const;
  bool asked_for(std::string_view key) const;

  const toml::table& table_;
  std::string name_, file_name_;
  std::vector<base::Trouble>& troubles_;
  std::vector<Asked> asked_;
};

}  // namespace evenbeam::machine
