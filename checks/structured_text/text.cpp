#include <cctype>
#include <tuple>
#include <utility>

#include "structured_text/parser.h"

namespace structured_text {
namespace {

std::string upper(std::string text) {
  for (char& c : text) c = static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  return text;
}

std::unique_ptr<Block> standard_block(const char* name, Native native,
                                      std::vector<std::tuple<const char*, Section, Kind>> variables) {
  auto block = std::make_unique<Block>();
  block->name = name, block->native = native;
  for (const auto& [variable, section, kind] : variables) {
    Variable v{.name = variable, .section = section, .kind = kind};
    v.offset = block->size++;
    v.initial = {0};
    block->variables.push_back(v);
  }
  return block;
}

}  // namespace

const Variable* Block::find(const std::string& upper_name) const {
  for (const Variable& v : variables)
    if (v.name == upper_name) return &v;
  return nullptr;
}

Text::Text(const std::string& text) {
  using S = Section;
  for (const auto& [name, native] : {std::pair{"R_TRIG", Native::rising}, std::pair{"F_TRIG", Native::falling}})
    blocks_.push_back(standard_block(
        name, native,
        {{"CLK", S::input, Kind::boolean}, {"Q", S::output, Kind::boolean}, {"M", S::own, Kind::boolean}}));
  blocks_.push_back(standard_block("TON", Native::on_delay,
                                   {{"IN", S::input, Kind::boolean},
                                    {"PT", S::input, Kind::time},
                                    {"Q", S::output, Kind::boolean},
                                    {"ET", S::output, Kind::time},
                                    {"SINCE", S::own, Kind::time},
                                    {"BEFORE", S::own, Kind::boolean}}));
  Parser(text, blocks_).run();
}

const Block& Text::block(const std::string& name) const {
  for (const auto& b : blocks_)
    if (b->name == upper(name)) return *b;
  throw Refused(0, "no block of the name " + name);
}

Running::Running(const Text& text, const std::string& block) : block_(text.block(block)) {
  for (const Variable& v : block_.variables) cells_.insert(cells_.end(), v.initial.begin(), v.initial.end());
}

double& Running::at(const std::string& name) {
  const Block* block = &block_;
  size_t base = 0, from = 0;
  for (;;) {
    const size_t dot = name.find('.', from);
    const Variable* v = block->find(upper(name.substr(from, dot - from)));
    if (!v) throw Refused(0, "no variable " + name);
    base += v->offset;
    if (dot == std::string::npos) return cells_[base];
    block = v->block, from = dot + 1;
    if (!block) throw Refused(0, "no block in " + name);
  }
}

}  // namespace structured_text
