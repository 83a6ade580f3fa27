#pragma once
// A drive's parameter set as it was exported to text: one name and one value a line, in any of the layouts that
// exporters use, found from the lines themselves:
//   name = value     name: value     name;value;unit     name,value,unit     name <tab> value     "name","value"
// Remarks (from # or // to the end of the line, whole lines that begin with ; ! ' * or --), headings and blank lines
// are left out and counted. Numbers: decimal point or comma (told by the file as a whole), thousands blanks, 0x and
// trailing-h hex, exponents, a unit behind the number or in a column of its own. What is no number stays text.
// Nothing is dropped silently: a line that gives no pair is told, with its number.
#include <optional>
#include <string>
#include <vector>

namespace evenbeam::readiness {

struct Parameter {
  std::string name;              // as in the file, blanks at the ends dropped
  std::string value;             // the same
  std::string unit;              // as written; empty where none
  std::optional<double> number;  // in the written unit's SI where the unit is known, else as written
  std::string si_unit;           // of number: "" where the unit is unknown or none
  long line = 0;
};

struct ParameterText {
  std::string file;
  std::vector<Parameter> parameters;  // in the file's order
  std::vector<std::string> unread;    // "line 14: 'ABC'": lines that give no pair
  std::vector<std::string> doubtful;  // "line 3: '1,234' could be 1.234 or 1234"
  bool decimal_comma = false;
};

// Throws base::InputError where not one pair is found, the text holds NUL bytes, or a name comes twice with different
// values.
ParameterText read_parameter_text(const std::string& text, const std::string& file_name);

}  // namespace evenbeam::readiness
