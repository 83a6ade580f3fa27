#pragma once
// Spellings of unit text brought to one: micro sign and Greek mu to 'u', raised digits to "^2", dots to '*', the
// degree sign to "deg", no-break blanks to blanks. Bytes of Latin-1 files (lone 0xB5, 0xB0, 0xB2, 0xB3) are taken as
// well.
#include <string>
#include <string_view>

namespace evenbeam::units {

std::string trimmed(std::string_view text);         // blanks and tabs at both ends off
std::string plain_spelling(std::string_view text);  // trimmed, then as above

}  // namespace evenbeam::units
