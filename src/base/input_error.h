#pragma once
// Bad input (file, flag, request): one error type that names the place, what was found, what was expected and what
// to do. Several troubles travel in one error, so that a file is corrected in one go. Caught at the front doors only.
#include <stdexcept>
#include <string>
#include <vector>

namespace evenbeam::base {

struct Trouble {
  std::string file;      // as the person named it
  long line = 0;         // 1-based, 0 = the file as a whole
  long column = 0;       // 1-based, 0 = the line as a whole
  std::string found;     // the text or value met
  std::string expected;  // the rule it broke
  std::string next;      // what to do, with a right example where one helps
};

// "file:line:column: found X; expected Y. Do Z."
std::string to_text(const Trouble& trouble);

class InputError : public std::runtime_error {
 public:
  explicit InputError(Trouble trouble);
  explicit InputError(std::vector<Trouble> troubles);  // at least one
  const std::vector<Trouble>& troubles() const { return troubles_; }

 private:
  std::vector<Trouble> troubles_;
};

}  // namespace evenbeam::base
