#include "report/html.h"

#include <fmt/format.h>

#include <algorithm>

#include "base/check.h"
#include "report/text.h"

namespace evenbeam::report {
namespace {

std::string_view shape(base::Verdict verdict) {
  switch (verdict) {
    case base::Verdict::pass:
      return R"(<circle cx="10" cy="10" r="8" fill="none" stroke="currentColor" stroke-width="2"/><path d="M6 10.4l3 3 5.2-6.4" fill="none" stroke="currentColor" stroke-width="2"/>)";
    case base::Verdict::attention:
      return R"(<path d="M10 1.8l8.8 16H1.2z" fill="none" stroke="currentColor" stroke-width="2" stroke-linejoin="round"/><path d="M10 7v5.2M10 15v.2" fill="none" stroke="currentColor" stroke-width="2.2" stroke-linecap="round"/>)";
    case base::Verdict::stop:
      return R"(<path d="M6.3 1h7.4L19 6.3v7.4L13.7 19H6.3L1 13.7V6.3z" fill="currentColor"/><path d="M5 10h10" fill="none" class="s-paper" stroke="#FFFFFF" stroke-width="3"/>)";
    case base::Verdict::not_done:
      return R"(<circle cx="10" cy="10" r="8" fill="none" stroke="currentColor" stroke-width="2" stroke-dasharray="3 3.3"/>)";
  }
  base::check(false, "a verdict is one of four");
  return {};
}

std::string_view verdict_class(base::Verdict verdict) {
  switch (verdict) {
    case base::Verdict::pass:
      return "pass";
    case base::Verdict::attention:
      return "attention";
    case base::Verdict::stop:
      return "stop";
    case base::Verdict::not_done:
      return "not-done";
  }
  return "";
}

struct Suffix {
  std::string_view text, unit;
};
// Longest first: a suffix that ends another one must not cut it in two.
constexpr Suffix suffixes[] = {{"_n_m_s_per_rad", "N*m*s/rad"},
                               {"_n_m_per_rad", "N*m/rad"},
                               {"_n_s_per_m", "N*s/m"},
                               {"_n_per_m", "N/m"},
                               {"_m_per_s2", "m/s^2"},
                               {"_m_per_s", "m/s"},
                               {"_kg_m2", "kg*m^2"},
                               {"_per_s", "1/s"},
                               {"_n_m", "N*m"},
                               {"_rad", "rad"},
                               {"_kg", "kg"},
                               {"_hz", "Hz"},
                               {"_m", "m"},
                               {"_n", "N"},
                               {"_s", "s"}};

}  // namespace

std::string element(std::string_view tag, std::string_view content, std::string_view attributes) {
  return fmt::format("<{}{}{}>{}</{}>", tag, attributes.empty() ? "" : " ", attributes, content, tag);
}

std::string text_element(std::string_view tag, std::string_view text, std::string_view attributes) {
  return element(tag, escape(text), attributes);
}

std::string table(const std::vector<Column>& columns, const std::vector<std::vector<std::string>>& rows,
                  std::string_view css_class) {
  std::string head, body;
  for (const Column& column : columns)
    head += text_element("th", column.head, column.number ? R"(scope="col" class="number")" : R"(scope="col")");
  for (const auto& row : rows) {
    base::check(row.size() == columns.size(), "a table row has a cell for each column",
                {double(row.size()), double(columns.size())});
    std::string cells;
    for (size_t i = 0; i < row.size(); ++i) {
      const std::string_view attributes = columns[i].number ? R"(class="number")" : "";
      cells += i == 0 ? element("th", row[i], columns[i].number ? R"(scope="row" class="number")" : R"(scope="row")")
                      : element("td", row[i], attributes);
    }
    body += element("tr", cells) + "\n";
  }
  const std::string attributes = css_class.empty() ? "" : fmt::format("class=\"{}\"", css_class);
  return element("table", element("thead", element("tr", head)) + "\n" + element("tbody", body), attributes) + "\n";
}

std::string verdict_mark(base::Verdict verdict, const Words& words, bool with_word) {
  const std::string_view word = verdict_word(words, verdict);
  const std::string svg = fmt::format(
      R"(<svg class="shape" viewBox="0 0 20 20" {}>{}</svg>)",
      with_word ? R"(aria-hidden="true")" : fmt::format(R"(role="img" aria-label="{}")", word), shape(verdict));
  return element("span", svg + (with_word ? text_element("span", word, R"(class="word")") : ""),
                 fmt::format(R"(class="verdict {}")", verdict_class(verdict)));
}

std::string key_in_words(std::string_view key) {
  for (const Suffix& suffix : suffixes)
    if (key.size() > suffix.text.size() && key.ends_with(suffix.text)) {
      key.remove_suffix(suffix.text.size());
      break;
    }
  std::string out;
  while (!key.empty()) {
    const std::string_view word = key.substr(0, key.find('_'));
    key.remove_prefix(std::min(key.size(), word.size() + 1));
    if (!out.empty()) out += ' ';
    if (word == "a" || word == "b")
      out += word == "a" ? 'A' : 'B';
    else
      out += word;
  }
  return out;
}

std::string_view key_unit(std::string_view key) {
  for (const Suffix& suffix : suffixes)
    if (key.size() > suffix.text.size() && key.ends_with(suffix.text)) return suffix.unit;
  return "1";
}

}  // namespace evenbeam::report
