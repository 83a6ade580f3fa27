#include "readiness/parameter_effect.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>
#include <string_view>
#include <utility>

#include "readiness/parameter_number.h"

namespace evenbeam::readiness {
namespace {

constexpr std::array<std::pair<const char*, SkewEffect>, 8> words_of_effects{{{"direction", SkewEffect::direction},
                                                                              {"scale", SkewEffect::scale},
                                                                              {"force", SkewEffect::force},
                                                                              {"reaction", SkewEffect::reaction},
                                                                              {"gain", SkewEffect::gain},
                                                                              {"timing", SkewEffect::timing},
                                                                              {"homing", SkewEffect::homing},
                                                                              {"nothing", SkewEffect::none}}};

struct Objects {
  SkewEffect effect;
  std::vector<unsigned> numbers;
};

// 1000h to 1FFFh: CiA 301; 6000h to 67FFh: CiA 402.
const std::vector<Objects>& objects() {
  static const std::vector<Objects> table{
      {SkewEffect::direction, {0x607E}},  // polarity
      {SkewEffect::scale,                 // encoder resolutions, gear ratio, feed constant, older position factors
       {0x608F, 0x6090, 0x6091, 0x6092, 0x6093, 0x6094, 0x6096, 0x6097}},
      {SkewEffect::force,  // largest torque and current, rated ones, torque limits and offset, motor type
       {0x6072, 0x6073, 0x6075, 0x6076, 0x60B2, 0x60E0, 0x60E1, 0x6402}},
      {SkewEffect::reaction,  // windows, option codes, software limits, quick stop
       {0x605A, 0x605B, 0x605C, 0x605D, 0x605E, 0x6065, 0x6066, 0x6067, 0x6068, 0x607D, 0x6085}},
      {SkewEffect::gain, {0x60F6, 0x60F9, 0x60FB}},                           // control parameter sets
      {SkewEffect::timing, {0x60C2}},                                         // interpolation period
      {SkewEffect::homing, {0x607C, 0x6098, 0x6099, 0x609A, 0x60B8}},         // home offset, method, speeds, probe
      {SkewEffect::none, {0x1008, 0x1009, 0x100A, 0x1018, 0x6403, 0x6404}}};  // names, versions, identity, catalogue
  return table;
}

struct Words {
  SkewEffect effect;
  std::vector<std::string_view> words;
};

// Looked for in this order; the first that is found decides. Words of identity come first, so that a "motor serial
// number" is not taken for a motor's number of poles.
const std::vector<Words>& dictionary() {
  static const std::vector<Words> table{
      {SkewEffect::none,
       {"serial", "firmware", "version", "hours", "device name", "axis name", "comment", "address", "node id",
        "station alias", "date", "display", "language"}},
      {SkewEffect::direction,
       {"polarity", "direction", "invert", "reverse", "sense", "commutation", "electrical angle", "angle offset",
        "phase order", "phase sequence"}},
      {SkewEffect::reaction,
       {"fault", "error", "trip", "brake", "stop", "limit switch", "deceleration", "timeout", "watchdog", "monitor",
        "window"}},
      {SkewEffect::homing, {"home", "homing", "reference", "latch", "mark", "index", "touch probe"}},
      {SkewEffect::scale,
       {"resolution", "counts", "increments", "encoder", "feedback", "pitch", "lead", "gear", "ratio", "numerator",
        "denominator", "lines", "scale", "scaling", "pulses"}},
      {SkewEffect::force,
       {"torque", "force", "current", "pole", "motor", "inertia", "mass", "kt", "peak", "continuous", "rated",
        "offset"}},
      {SkewEffect::gain,
       {"gain", "kp", "ki", "kv", "kd", "integral", "proportional", "bandwidth", "stiffness", "feed"}},
      {SkewEffect::timing,
       {"filter", "notch", "delay", "period", "cycle", "time", "smoothing", "low pass", "lowpass", "cutoff",
        "damping"}}};
  return table;
}

// Lower case, the name's marks as blanks: "VelLoop.Kp_Gain" holds "kp" and "gain".
std::string plain(const std::string& name) {
  std::string out = " ";
  for (const char c : lowered(name)) out += std::isalnum(static_cast<unsigned char>(c)) ? c : ' ';
  return out + ' ';
}

// The four hexadecimal digits behind 0x or 16#, or before h.
std::optional<unsigned> object_number(const std::string& name) {
  const std::string text = lowered(name);
  const auto four = [&](std::size_t at) -> std::optional<unsigned> {
    unsigned number = 0;
    const char* const from = text.data() + at;
    if (at + 4 > text.size() || std::from_chars(from, from + 4, number, 16).ptr != from + 4) return std::nullopt;
    const bool longer = at + 4 < text.size() && std::isxdigit(static_cast<unsigned char>(text[at + 4]));
    return longer ? std::nullopt : std::optional(number);
  };
  for (const std::string_view before : {"0x", "16#"})
    if (const std::size_t at = text.find(before); at != std::string::npos)
      if (const auto number = four(at + before.size())) return number;
  for (std::size_t at = text.find('h'); at != std::string::npos; at = text.find('h', at + 1)) {
    const bool ends = at + 1 == text.size() || !std::isalnum(static_cast<unsigned char>(text[at + 1]));
    const bool begins = at == 4 || (at > 4 && !std::isalnum(static_cast<unsigned char>(text[at - 5])));
    if (ends && begins)
      if (const auto number = four(at - 4)) return number;
  }
  return std::nullopt;
}

}  // namespace

std::string to_text(SkewEffect effect) {
  static const std::array<const char*, 9> words{"may drive one side against the other",
                                                "skew that grows with the way",
                                                "unequal forces: skew whenever it accelerates",
                                                "not told by its name: look it up",
                                                "one side stops otherwise than the other",
                                                "skew while it moves",
                                                "skew at changes of speed, and less margin",
                                                "skew that is there after homing",
                                                "none"};
  return words[static_cast<std::size_t>(effect)];
}

std::optional<SkewEffect> effect_of_word(const std::string& word) {
  for (const auto& [name, effect] : words_of_effects)
    if (word == name) return effect;
  return std::nullopt;
}

std::vector<std::string> effect_words() {
  std::vector<std::string> out;
  for (const auto& [name, effect] : words_of_effects) out.emplace_back(name);
  return out;
}

EffectTold skew_effect(const std::string& name, const std::vector<StatedEffect>& stated) {
  for (const StatedEffect& one : stated)
    if (lowered(one.name) == lowered(name)) return {one.effect, "your statement"};
  if (const auto number = object_number(name))
    for (const Objects& row : objects())
      if (std::find(row.numbers.begin(), row.numbers.end(), *number) != row.numbers.end())
        return {row.effect, fmt::format("object {:04X}h of the open drive standard, from memory", *number)};
  const std::string text = plain(name);
  for (const Words& row : dictionary())
    for (const std::string_view word : row.words) {
      const bool is_short = word.size() < 4;  // short ones only as whole words
      if (text.find(is_short ? fmt::format(" {} ", word) : std::string(word)) != std::string::npos)
        return {row.effect, "a guess from its name"};
    }
  return {SkewEffect::unknown, "nothing"};
}

}  // namespace evenbeam::readiness
