#pragma once
// Text for drawings and pages: escaping, numbers with fixed rounding, and how wide a text will be.
// Widths are estimated from the advance widths of a wide common sans face (DejaVu Sans, read from its tables and
// rounded up), so that a text set in a narrower face always fits the box computed here.
#include <string>
#include <string_view>
#include <vector>

namespace evenbeam::report {

// For element content and quoted attributes alike. Bytes that are no UTF-8 and control characters become U+FFFD, so
// that a hostile file name can neither open an element nor make the page ill-formed.
std::string escape(std::string_view text);

// A name for an id attribute: letters, digits, '-', '_' kept, all else '-'.
std::string id_text(std::string_view text);

// A drawing coordinate: one decimal, no "-0", no trailing ".0".
std::string coordinate(double value);

// `digits` significant digits, plain notation between 1e-4 and 1e7, else powers of ten; "unknown" where not finite.
std::string significant(double value, int digits);

// The same without the zeros that only pad: "38.5", "-600", "0.3".
std::string trimmed(double value, int digits);

// "-3 mm" -> "−3 mm": the sign as long as a plus, for drawings (tables keep the one that can be copied into a tool).
std::string true_minus(std::string text);

// Drawing units, at a font size in drawing units.
double text_width(std::string_view text, double size);

// Broken at spaces (and inside a word only where it alone is wider, after a hyphen or underscore where it has one) so
// that no line exceeds `width`.
std::vector<std::string> wrap(std::string_view text, double width, double size);

// 10 -> "¹⁰", -6 -> "⁻⁶".
std::string superscript(int number);

// One UTF-8 character (always at least one byte) at `at`; 0 length never.
std::string_view character_at(std::string_view text, size_t at);

}  // namespace evenbeam::report
