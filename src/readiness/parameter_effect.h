#pragma once
// What a difference in one drive parameter would do to the skew. Told, in this order, by
//   1. the person: [[parameters.effect]] of ready.toml;
//   2. the object number of the open drive standard, where the name is one or holds one ("0x607E", "607Eh",
//      "16#6091:01");
//   3. words in the name, English only: a guess, and said to be one.
// A name that tells nothing is unknown, ranked with what holds back a push, never as harmless.
// Sources: object numbers of CiA 402 (IEC 61800-7-201) and CiA 301, from memory; words: common practice, no source.
#include <optional>
#include <string>
#include <vector>

namespace evenbeam::readiness {

// Worst first; down to `unknown` a difference holds back the first push.
enum class SkewEffect { direction, scale, force, unknown, reaction, gain, timing, homing, none };
std::string to_text(SkewEffect effect);  // "may drive one side against the other"
// "direction", "scale", "force", "reaction", "gain", "timing", "homing", "nothing"; nullopt for other words.
std::optional<SkewEffect> effect_of_word(const std::string& word);
std::vector<std::string> effect_words();

struct StatedEffect {
  std::string name;
  SkewEffect effect = SkewEffect::unknown;
};

struct EffectTold {
  SkewEffect effect = SkewEffect::unknown;
  std::string told_by;  // "your statement", "object 607Eh (CiA 402, from memory)", "a guess from its name", "nothing"
};
EffectTold skew_effect(const std::string& name, const std::vector<StatedEffect>& stated = {});

}  // namespace evenbeam::readiness
