#include <doctest/doctest.h>

#include "base/hash.h"

namespace evenbeam::base {

// Source: NIST, FIPS 180-4 example messages (one block, two blocks) and the empty message. From memory.
TEST_CASE("SHA-256 of the standard's examples") {
  CHECK(sha256_hex("") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
  CHECK(sha256_hex("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  CHECK(sha256_hex("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq") ==
        "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
}

}  // namespace evenbeam::base
