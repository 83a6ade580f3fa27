// One libFuzzer program for all readers; EVENBEAM_READER says which.
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <cstring>

#include "readers.h"

namespace {

using evenbeam::fuzz::Reader;

Reader chosen() {
  const char* name = std::getenv("EVENBEAM_READER");
  std::vector<Reader> readers = evenbeam::fuzz::foreign_readers();
#ifdef EVENBEAM_ALL_READERS
  for (const auto& list : {evenbeam::fuzz::station_readers(), evenbeam::fuzz::http_readers()})
    readers.insert(readers.end(), list.begin(), list.end());
#endif
  for (const Reader& reader : readers)
    if (name != nullptr && reader.name == name) return reader;
  std::fprintf(stderr, "EVENBEAM_READER names no reader\n");
  std::exit(2);
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const Reader reader = chosen();
  reader.take({reinterpret_cast<const char*>(data), size});
  return 0;
}
