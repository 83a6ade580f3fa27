#include "report/well_formed.h"

#include <fmt/format.h>

#include <algorithm>
#include <set>

namespace evenbeam::report {
namespace {

struct Reader {
  std::string_view html;
  size_t at = 0;
  std::vector<std::string> open, troubles;
  std::set<std::string> ids;
  std::vector<std::string> wanted_ids;

  void trouble(std::string_view what, std::string_view detail = "") {
    troubles.push_back(fmt::format("byte {}: {} {}", at, what, detail));
  }
};

bool is_name(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' || c == ':' ||
         c == '_';
}

std::string take_name(Reader& r) {
  const size_t start = r.at;
  while (r.at < r.html.size() && is_name(r.html[r.at])) ++r.at;
  return std::string(r.html.substr(start, r.at - start));
}

void skip_space(Reader& r) {
  while (r.at < r.html.size() && (r.html[r.at] == ' ' || r.html[r.at] == '\n')) ++r.at;
}

void check_references(Reader& r, std::string_view text) {
  static const std::string_view known[] = {"&amp;", "&lt;", "&gt;", "&quot;", "&#39;"};
  for (size_t i = text.find('&'); i != text.npos; i = text.find('&', i + 1))
    if (std::none_of(std::begin(known), std::end(known), [&](auto k) { return text.substr(i).starts_with(k); }))
      r.trouble("unknown reference", text.substr(i, 12));
  for (const char c : text)
    if (static_cast<unsigned char>(c) < 0x20 && c != '\n' && c != '\t') return r.trouble("control character");
}

void note_attribute(Reader& r, const std::string& name, const std::string& value) {
  if (name == "id" && !r.ids.insert(value).second) r.trouble("id used twice:", value);
  if (name == "href")
    value.starts_with('#') ? r.wanted_ids.push_back(value.substr(1)) : r.trouble("link leads out:", value);
  if (name == "src" || name == "srcset" || name.starts_with("on")) r.trouble("attribute not allowed:", name);
  if (name == "aria-labelledby")
    for (size_t from = 0; from < value.size();) {
      const size_t to = std::min(value.find(' ', from), value.size());
      r.wanted_ids.push_back(value.substr(from, to - from));
      from = to + 1;
    }
}

// Up to and with '>' ; true where the element closed itself.
bool take_attributes(Reader& r) {
  std::set<std::string> names;
  for (;;) {
    skip_space(r);
    if (r.at >= r.html.size()) return r.trouble("tag without end"), true;
    if (r.html[r.at] == '>') return ++r.at, false;
    if (r.html.substr(r.at).starts_with("/>")) return r.at += 2, true;
    const std::string name = take_name(r);
    if (name.empty() || !r.html.substr(r.at).starts_with("=\"")) {
      r.trouble("attribute without name or quoted value", name);
      r.at = std::min(r.html.find('>', r.at), r.html.size() - 1);
      continue;
    }
    const size_t start = r.at + 2, end = r.html.find('"', start);
    if (end == r.html.npos) return r.at = r.html.size(), r.trouble("quote without end"), true;
    const std::string value(r.html.substr(start, end - start));
    if (value.find('<') != value.npos) r.trouble("'<' in an attribute", name);
    check_references(r, value);
    if (!names.insert(name).second) r.trouble("attribute twice:", name);
    note_attribute(r, name, value);
    r.at = end + 1;
  }
}

void take_end_tag(Reader& r) {
  r.at += 2;
  const std::string name = take_name(r);
  if (r.open.empty() || r.open.back() != name)
    r.trouble("closed but not open here:", name);
  else
    r.open.pop_back();
  skip_space(r);
  if (r.at >= r.html.size() || r.html[r.at] != '>')
    r.trouble("end tag without '>'", name);
  else
    ++r.at;
}

void take_tag(Reader& r) {
  if (r.html.substr(r.at).starts_with("</")) return take_end_tag(r);
  ++r.at;
  const std::string name = take_name(r);
  if (name.empty()) return r.trouble("'<' in text");
  static const std::set<std::string> refused = {"script", "iframe", "object", "embed", "link", "img", "form", "base"};
  if (refused.count(name)) r.trouble("element not allowed:", name);
  if (take_attributes(r)) return;
  if (name == "style") {  // raw text up to its end tag
    const size_t end = std::min(r.html.find("</style>", r.at), r.html.size());
    const std::string_view css = r.html.substr(r.at, end - r.at);
    for (const std::string_view loads : {"url(", "@import", "expression("})
      if (css.find(loads) != css.npos) r.trouble("style loads from elsewhere:", loads);
    r.at = end;
  }
  r.open.push_back(name);
}

}  // namespace

std::vector<std::string> page_troubles(std::string_view html) {
  Reader r{html};
  constexpr std::string_view doctype = "<!DOCTYPE html>";
  if (html.starts_with(doctype)) r.at = doctype.size();
  while (r.at < html.size()) {
    if (html[r.at] == '<') {
      take_tag(r);
      continue;
    }
    const size_t end = std::min(html.find('<', r.at), html.size());
    check_references(r, html.substr(r.at, end - r.at));
    r.at = end;
  }
  for (const std::string& name : r.open) r.trouble("never closed:", name);
  for (const std::string& id : r.wanted_ids)
    if (!r.ids.count(id)) r.trouble("no element has the id", id);
  return r.troubles;
}

}  // namespace evenbeam::report
