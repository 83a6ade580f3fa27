#include "capture_file.h"

#include <algorithm>
#include <charconv>
#include <cmath>

namespace generator {
namespace {

void put(std::string& text, double value, int digits, const FileForm& form) {
  if (std::isnan(value)) {
    text += form.missing;
    return;
  }
  char digits_text[64];
  const auto end =
      std::to_chars(digits_text, digits_text + sizeof digits_text, value, std::chars_format::fixed, digits);
  if (form.decimal_comma) std::replace(digits_text, end.ptr, '.', ',');
  text.append(digits_text, end.ptr);
}

struct Column {
  const std::vector<double>* values;
  double unit;
  int digits;
};

}  // namespace

std::string file_text(const Capture& c, const FileForm& form) {
  const double length = form.length_unit_m;
  std::vector<Column> columns = {{nullptr, form.time_unit_s, form.time_digits},
                                 {&c.reference_a_m, length, form.length_digits},
                                 {&c.reference_b_m, length, form.length_digits},
                                 {&c.position_a_m, length, form.length_digits},
                                 {&c.position_b_m, length, form.length_digits},
                                 {&c.output_a_n, form.output_unit_a_n, form.output_digits},
                                 {&c.output_b_n, form.output_unit_b_n, form.output_digits}};
  if (c.has_latches) {
    columns.push_back({&c.latched_a_m, length, form.length_digits});
    columns.push_back({&c.latched_b_m, length, form.length_digits});
  }
  const std::string line_end = form.carriage_return ? "\r\n" : "\n";
  std::string text = form.byte_order_mark ? "\xEF\xBB\xBF" : "";
  for (const std::string& line : form.preamble) text += line + line_end;
  const auto row = [&](auto&& cell) {
    bool any = false;
    for (std::size_t i = 0; i < columns.size(); ++i) {
      if (form.names[i].empty()) continue;
      if (any) text += form.separator;
      any = true;
      cell(i);
    }
    text += line_end;
  };
  row([&](std::size_t i) { text += form.names[i]; });
  for (std::size_t k = 0; k < c.position_a_m.size(); ++k)
    row([&](std::size_t i) {
      const double value = columns[i].values ? (*columns[i].values)[k] : static_cast<double>(k) * c.period_s;
      put(text, value / columns[i].unit, columns[i].digits, form);
    });
  return text;
}

}  // namespace generator
