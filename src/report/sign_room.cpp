#include "report/sign_room.h"

#include <algorithm>
#include <cmath>

#include "report/text.h"

namespace evenbeam::report {
namespace {

constexpr double points_per_mm = 72 / 25.4;
// Everything of fixed size on the page but the settings' rows: heading, verdict, heads, the usual cautions, the
// signatures. Measured on printed pages of a whole job, with a few points of air.
constexpr double fixed_height = 393, settings_head = 14, settings_line = 12.4;

}  // namespace

Sheet sheet_of(Paper paper) {
  const double width_mm = paper == Paper::a4 ? 210 : 215.9, height_mm = paper == Paper::a4 ? 297 : 279.4;
  const double width = (width_mm - 2 * 17) * points_per_mm;  // margins as in page_css.cpp
  return {width, (height_mm - 11 - 14) * points_per_mm, (width - 2.4 * sign_font) / 2};
}

std::size_t lines_of(std::string_view text, double width, double size) {
  return std::max<std::size_t>(1, wrap(text, width, size).size());
}

std::string cut_to_lines(const std::string& text, double width, std::size_t lines, double size) {
  const std::vector<std::string> rows = wrap(text, width, size);
  if (rows.size() <= lines) return text;
  std::string out;
  for (std::size_t i = 0; i < lines; ++i) out += (i ? " " : "") + rows[i];
  const double room = width - text_width(" …", size);
  while (!out.empty() &&
         (wrap(out, width, size).size() > lines || text_width(wrap(out, width, size).back(), size) > room)) {
    const std::size_t space = out.rfind(' ');
    if (space == std::string::npos) {  // one long word: its last letter, all bytes of it
      while (out.size() > 1 && (static_cast<unsigned char>(out.back()) & 0xC0) == 0x80) out.pop_back();
      out.pop_back();
    } else {
      out.resize(space);
    }
  }
  return out + " …";
}

FittedList fit_list(const std::vector<ListItem>& items, double width, double height, std::size_t most) {
  const auto cut = [&](const ListItem& item, std::size_t lines) {
    const std::string whole = cut_to_lines(item.lead + item.text, width, lines);
    return whole.size() > item.lead.size() ? whole.substr(item.lead.size()) : std::string("…");
  };
  const auto height_of = [&](const std::string& lead, const std::string& text) {
    return sign_line * static_cast<double>(lines_of(lead + text, width)) + sign_gap;
  };
  for (std::size_t lines = most; lines >= 1; --lines) {
    FittedList out;
    double used = 0;
    for (const ListItem& item : items) {
      out.texts.push_back(cut(item, lines));
      used += height_of(item.lead, out.texts.back());
    }
    if (used <= height) {  // what is left goes to those cut, the first first
      for (std::size_t i = 0; i < items.size(); ++i) {
        const std::string longer = cut(items[i], most);
        const double more = height_of(items[i].lead, longer) - height_of(items[i].lead, out.texts[i]);
        if (used + more > height) continue;
        out.texts[i] = longer;
        used += more;
      }
      return out;
    }
    if (lines > 1) continue;
    while (!out.texts.empty() && used > height - sign_line - sign_gap) {  // a line says how many are left out
      used -= height_of(items[out.texts.size() - 1].lead, out.texts.back());
      out.texts.pop_back();
    }
    out.left_out = items.size() - out.texts.size();
    return out;
  }
  return {};
}

double variable_height(const ReportInput& input, const std::vector<const SettingsRow*>& front) {
  const Sheet sheet = sheet_of(input.paper);
  double settings = 0;
  if (!front.empty()) {
    const std::size_t middle = (front.size() + 1) / 2;
    double left = 0, right = 0;
    for (std::size_t i = 0; i < front.size(); ++i) {
      const std::string text =
          front[i]->label + " " + front[i]->note + "   " + (front[i]->value ? "0000000000000000" : front[i]->text);
      (i < middle ? left : right) +=
          settings_line * static_cast<double>(lines_of(text, sheet.column, sign_font * 0.95));
    }
    settings = settings_head + std::max(left, right);
  }
  return std::max(0.0, sheet.height - fixed_height - settings);
}

}  // namespace evenbeam::report
