#pragma once
// Numbers as drives write them: decimal point or comma, thousands marked, hex as 0x1F, 1Fh or 16#1F, exponents.
// "1,234" alone tells nothing: which it is comes from the file's other numbers, or it stays doubtful and no number.
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace evenbeam::readiness {

std::string lowered(std::string_view text);

enum class DecimalSign { unknown, point, comma };
DecimalSign decimal_sign_of(const std::vector<std::string>& values);

struct ReadNumber {
  std::optional<double> value;
  bool doubtful = false;
  std::string words;  // why doubtful
};
ReadNumber read_number(const std::string& text, DecimalSign sign);
bool looks_like_number(const std::string& text);
// Half a unit of the last digit written, in the number's own size: 0.05 of "12.3"; 0 where there are no decimals.
double written_doubt(const std::string& text);

}  // namespace evenbeam::readiness
