#pragma once
// What a refusal says, or "no error".
#include <string>

#include "base/input_error.h"

namespace evenbeam::base::test {

inline std::string message_of(auto&& action) {
  try {
    action();
  } catch (const InputError& error) {
    return error.what();
  }
  return "no error";
}

}  // namespace evenbeam::base::test
