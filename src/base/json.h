#pragma once
// JSON as the program writes and reads it: keys in the order given, numbers as the shortest decimal that reads back
// exactly (std::to_chars), what is not finite as null. Same value, same bytes.
#include <nlohmann/json_fwd.hpp>
#include <string>
#include <string_view>

namespace evenbeam::base {

using Json = nlohmann::ordered_json;

// The shortest text that std::from_chars reads back to the same double; "null" for NaN and infinities.
std::string number_text(double value);
// Indented by two; what holds only plain values and fits in a line stays in one. Ends without a newline.
std::string to_text(const Json& json);
std::string to_line(const Json& json);  // without any line break
// InputError with `file`, line and column where the text is no JSON.
Json parse_json(std::string_view text, const std::string& file);

}  // namespace evenbeam::base
