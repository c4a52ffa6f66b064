// Arbitrary text as a score: an error in one line, or a line that keeps what phrase_checks.h asks of it.
#include "src/formats/phrase_file.h"
#include "tests/fuzz/phrase_checks.h"

using namespace landfall;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    checkPhrase(parsePhrase({reinterpret_cast<const char*>(data), size}, "phrase.musicxml"), "phrase.musicxml:");
    return 0;
}
