// Arbitrary text as a drill file: an error in one line, or a drill that can be used. The same bytes as a move, a tuning
// and a note name.
#include <string_view>

#include "src/formats/drill_file.h"
#include "src/music/guitar.h"
#include "src/system/printable.h"
#include "tests/fuzz/fuzz_input.h"

using namespace landfall;

namespace {

template <typename Value>
bool saysWhy(const Result<Value>& result) {
    if (result) return true;
    mustHold(!result.error().message.empty(), "an error says what is wrong");
    mustHold(printable(result.error().message) == result.error().message,
             "an error is one line without control characters");
    return false;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const std::string_view text(reinterpret_cast<const char*>(data), size);
    if (const auto drill = parseDrill(text, "drill.toml"); saysWhy(drill) && drill) {
        mustHold(!drill->places.empty(), "a drill has a place");
        saysWhy(allMoves(*drill, Guitar{}));
        mustHold(drillLength(*drill).value > 0.0 && totalTries(*drill) > 0, "it takes time");
        mustHold(!describeSteps(*drill).empty() && !drillAsJson(*drill, Guitar{}).empty(), "it can be shown");
    }
    saysWhy(parseMove(text));
    if (const auto strings = parseTuning(text); saysWhy(strings) && strings)
        mustHold(!tuningName(*strings).empty(), "a tuning has a name");
    return 0;
}
