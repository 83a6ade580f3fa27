#include "report/text.h"

#include <fmt/format.h>

#include <cmath>

namespace evenbeam::report {
namespace {

// Length of the UTF-8 sequence that a lead byte announces; 0 where it is no lead byte.
size_t announced_length(unsigned char lead) {
  if (lead < 0x80) return 1;
  if (lead >= 0xC2 && lead < 0xE0) return 2;
  if (lead >= 0xE0 && lead < 0xF0) return 3;
  if (lead >= 0xF0 && lead < 0xF5) return 4;
  return 0;
}

// Overlong forms and surrogates are refused: some readers take them for other characters.
bool second_byte_allowed(unsigned char lead, unsigned char second) {
  if (lead == 0xE0) return second >= 0xA0;
  if (lead == 0xED) return second < 0xA0;
  if (lead == 0xF0) return second >= 0x90;
  if (lead == 0xF4) return second < 0x90;
  return true;
}

bool is_valid(std::string_view piece) {
  const auto lead = static_cast<unsigned char>(piece[0]);
  if (announced_length(lead) != piece.size()) return false;
  if (piece.size() == 1) return (lead >= 0x20 && lead != 0x7F) || lead == '\n' || lead == '\t';
  const auto second = static_cast<unsigned char>(piece[1]);
  if (lead == 0xC2 && second < 0xA0) return false;                                                   // C1 controls
  if (lead == 0xEF && second == 0xBF && static_cast<unsigned char>(piece[2]) >= 0xBE) return false;  // U+FFFE, U+FFFF
  return second_byte_allowed(lead, second);
}

// Right-to-left and left-to-right overrides turn a file name into another one for the eye.
bool reorders_text(std::string_view piece) {
  return piece.size() == 3 && piece[0] == '\xE2' &&
         ((piece[1] == '\x80' && piece[2] >= '\xAA' && piece[2] <= '\xAE') ||
          (piece[1] == '\x81' && piece[2] >= '\xA6' && piece[2] <= '\xA9'));
}

// Advance widths of DejaVu Sans in thousandths of the size, rounded up by class.
double advance(std::string_view piece) {
  if (piece.size() > 1) return 0.84;
  const char c = piece[0];
  const std::string_view narrow = "iljI.,:;'|! ", middling = "ftr()[]-/\\\"`";
  if (narrow.find(c) != narrow.npos) return 0.34;
  if (middling.find(c) != middling.npos) return 0.47;
  if (c >= '0' && c <= '9') return 0.64;
  if (c == 'm' || c == 'w' || c == 'M' || c == 'W' || c == '%' || c == '@') return 1.0;
  if (c >= 'A' && c <= 'Z') return 0.76;
  if (c == '+' || c == '=' || c == '<' || c == '>' || c == '~' || c == '#' || c == '^') return 0.84;
  return 0.64;
}

bool plain(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' || c == '_';
}

}  // namespace

std::string_view character_at(std::string_view text, size_t at) {
  const size_t announced = announced_length(static_cast<unsigned char>(text[at]));
  if (announced < 2 || at + announced > text.size()) return text.substr(at, 1);
  for (size_t i = 1; i < announced; ++i)
    if ((static_cast<unsigned char>(text[at + i]) & 0xC0) != 0x80) return text.substr(at, 1);
  return text.substr(at, announced);
}

std::string escape(std::string_view text) {
  std::string out;
  out.reserve(text.size() + text.size() / 8);
  for (size_t at = 0; at < text.size();) {
    const std::string_view piece = character_at(text, at);
    at += piece.size();
    if (piece == "&")
      out += "&amp;";
    else if (piece == "<")
      out += "&lt;";
    else if (piece == ">")
      out += "&gt;";
    else if (piece == "\"")
      out += "&quot;";
    else if (piece == "'")
      out += "&#39;";
    else if (!is_valid(piece) || reorders_text(piece))
      out += "\xEF\xBF\xBD";
    else
      out += piece;
  }
  return out;
}

std::string id_text(std::string_view text) {
  std::string out;
  for (const char c : text) out += plain(c) ? c : '-';
  return out;
}

std::string coordinate(double value) {
  const long tenths = std::lround(value * 10);
  if (tenths % 10 == 0) return std::to_string(tenths / 10);
  const long size = std::labs(tenths);
  return fmt::format("{}{}.{}", tenths < 0 ? "-" : "", size / 10, size % 10);
}

std::string significant(double value, int digits) {
  if (!std::isfinite(value)) return "unknown";
  if (value == 0) return "0";
  // Rounded first, so that 9.9996 counts as 10 when its decimals are chosen.
  const std::string rounded = fmt::format("{:.{}e}", value, digits - 1);
  const int exponent = std::stoi(rounded.substr(rounded.find('e') + 1));
  if (exponent < -4 || exponent >= 7) {
    return fmt::format("{} × 10{}", rounded.substr(0, rounded.find('e')), superscript(exponent));
  }
  if (exponent >= digits) return fmt::format("{:.0f}", std::stod(rounded));
  return fmt::format("{:.{}f}", value, digits - 1 - exponent);
}

std::string trimmed(double value, int digits) {
  std::string text = significant(value, digits);
  const size_t power = text.find(" × ");
  std::string tail = power == std::string::npos ? "" : text.substr(power);
  std::string number = text.substr(0, power);
  if (number.find('.') == std::string::npos) return text;
  while (number.back() == '0') number.pop_back();
  if (number.back() == '.') number.pop_back();
  return number + tail;
}

std::string true_minus(std::string text) { return text.starts_with("-") ? "−" + text.substr(1) : text; }

double text_width(std::string_view text, double size) {
  double width = 0;
  for (size_t at = 0; at < text.size();) {
    const std::string_view piece = character_at(text, at);
    at += piece.size();
    width += advance(piece);
  }
  return width * size;
}

std::vector<std::string> wrap(std::string_view text, double width, double size) {
  std::vector<std::string> lines;
  std::string line;
  size_t last_space = std::string::npos;  // in `line`
  size_t last_joint = 0;                  // after a hyphen or underscore of the word that is too wide; 0 = none
  for (size_t at = 0; at < text.size();) {
    const std::string_view piece = character_at(text, at);
    at += piece.size();
    if (piece == " " && line.empty()) continue;
    if (piece == " ") last_space = line.size();
    if (!line.empty() && (line.back() == '-' || line.back() == '_')) last_joint = line.size();
    line += piece;
    if (text_width(line, size) <= width || line.size() == piece.size() || piece == " ") continue;
    const bool at_space = last_space != std::string::npos;
    const size_t cut = at_space ? last_space : last_joint > 0 ? last_joint : line.size() - piece.size();
    lines.push_back(line.substr(0, cut));
    line = line.substr(at_space ? cut + 1 : cut);
    last_space = std::string::npos, last_joint = 0;
  }
  while (!line.empty() && line.back() == ' ') line.pop_back();
  if (!line.empty()) lines.push_back(line);
  return lines;
}

std::string superscript(int number) {
  static const char* const digits[] = {"⁰", "¹", "²", "³", "⁴", "⁵", "⁶", "⁷", "⁸", "⁹"};
  std::string out;
  for (const char c : std::to_string(number)) out += c == '-' ? "⁻" : digits[c - '0'];
  return out;
}

}  // namespace evenbeam::report
