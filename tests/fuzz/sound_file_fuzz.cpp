// Arbitrary bytes as a sound file: an error in one line, or finite samples at a rate that the Listener takes.
#include <array>
#include <cmath>

#include "src/audio/sound_file.h"
#include "tests/fuzz/fuzz_input.h"
#include "tests/fuzz/scratch_file.h"

using namespace landfall;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    static const ScratchFile scratch("take.wav");
    scratch.hold({data, size});
    auto file = SoundFile::open(scratch.path, 1);
    if (!file) {
        mustHold(!file.error().message.empty() && file.error().message.find('\n') == std::string::npos,
                 "an error is one line");
        return 0;
    }
    mustHold(file->sampleRate() >= SoundFile::lowestRate && file->sampleRate() <= SoundFile::highestRate,
             "the rate is one that the Listener takes");
    std::array<float, 1024> block{};
    for (int blocks = 0; blocks < 200; ++blocks) {
        const std::size_t got = file->read(block);
        mustHold(got <= block.size(), "no more is read than asked for");
        for (std::size_t i = 0; i < got; ++i) mustHold(std::isfinite(block[i]), "samples are finite");
        if (got < block.size()) break;
    }
    for (const std::string& remark : file->remarks())
        mustHold(remark.find('\n') == std::string::npos, "a remark is one line");
    return 0;
}
