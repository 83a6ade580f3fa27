// The kept corpus and a few hundred seeded changes of each input, without a fuzzer: what every test run does. An
// input that ends the program, or lets anything but base::InputError out, is named before it is tried.
#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>

#include "math/random.h"
#include "readers.h"

namespace {

namespace fs = std::filesystem;
using evenbeam::fuzz::Reader;
using evenbeam::math::Random;

constexpr int kChanges = 60, kOverTheWire = 8;  // of each input
constexpr const char* kOdd[] = {"nan",    "-inf",
                                "1e999",  "0x",
                                "\"\"\"", "[[",
                                "]",      "{",
                                "\x80",   "",
                                "=",      ";;;",
                                "\r",     "-0",
                                "1e-320", "9999999999999999999999",
                                "\t",     "\xef\xbb\xbf",
                                "#"};

std::string text_of(const fs::path& path) {
  std::ifstream file(path, std::ios::binary);
  std::stringstream text;
  text << file.rdbuf();
  return text.str();
}

std::size_t below(Random& random, std::size_t n) {
  return static_cast<std::size_t>(random.uniform() * static_cast<double>(n));
}

std::string changed(std::string text, const std::string& other, Random& random) {
  const int times = 1 + static_cast<int>(below(random, 4));
  for (int i = 0; i < times; ++i) {
    const std::size_t at = below(random, text.size() + 1),
                      length = below(random, std::min<std::size_t>(40, text.size() - at + 1));
    switch (below(random, 6)) {
      case 0:
        text.erase(at, length);
        break;
      case 1:
        text.insert(at, text.substr(at, length));
        break;
      case 2:
        text.replace(at, std::min<std::size_t>(length, 6), kOdd[below(random, std::size(kOdd))]);
        break;
      case 3:
        if (at < text.size()) text[at] = static_cast<char>(below(random, 256));
        break;
      case 4:
        text.insert(at, other.substr(below(random, other.size() + 1), length));
        break;
      default:
        text.resize(at);
    }
  }
  return text;
}

// Written out, so that an input which ends the program can be found.
void tell(const std::string& text) { std::ofstream("fuzz_last_input", std::ios::binary) << text; }

int replay(const Reader& reader, const fs::path& corpus) {
  int done = 0;
  std::vector<fs::path> files;
  for (const auto& entry : fs::directory_iterator(corpus / reader.name)) files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  Random random(20261126);
  for (std::size_t i = 0; i < files.size(); ++i) {
    const std::string text = text_of(files[i]), other = text_of(files[(i + 1) % files.size()]);
    const int changes = reader.name == "http" ? kOverTheWire : kChanges;
    for (int k = 0; k <= changes; ++k, ++done) {
      const std::string tried = k == 0 ? text : changed(text, other, random);
      tell(tried);
      reader.take(tried);
    }
  }
  return done;
}

}  // namespace

int main(int count, char** words) {
  if (count < 2) return 2;
  std::vector<Reader> readers = evenbeam::fuzz::foreign_readers();
#ifdef EVENBEAM_ALL_READERS
  for (const auto& list : {evenbeam::fuzz::station_readers(), evenbeam::fuzz::http_readers()})
    readers.insert(readers.end(), list.begin(), list.end());
#endif
  int done = 0;
  for (const Reader& reader : readers) {
    const int here = replay(reader, words[1]);
    fmt::print("{}: {} inputs\n", reader.name, here);
    done += here;
    if (here == 0) return 1;  // a corpus that is gone proves nothing
  }
  fmt::print("{} inputs, each taken or refused in words; the last one tried is in fuzz_last_input\n", done);
  return 0;
}
