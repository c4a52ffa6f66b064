// `landfall track TAKE`: pitch frames of a sound file as CSV.
#include <array>
#include <string>

#include <fmt/core.h>

#include "dsp/pitch_tracker.h"
#include "src/app/commands.h"
#include "src/audio/sound_file.h"

namespace landfall {

namespace {

void printFrame(const PitchFrame& frame) {
    if (frame.pitch)
        fmt::print("{:.6f},{:.4f},{:.6f},{:.3f},{:.2f}\n", frame.available.value, frame.pitch->value,
                   frame.centre.value, frame.sd.value, frame.level.value);
    else fmt::print("{:.6f},,{:.6f},,{:.2f}\n", frame.available.value, frame.centre.value, frame.level.value);
}

}  // namespace

int runTrack(const TrackOptions& options) {
    auto file = SoundFile::open(options.take, options.channel);
    if (!file) return fail(file.error());
    PitchTracker tracker({.sampleRate = file->sampleRate()});
    fmt::print("time_s,f0_hz,centre_s,sd_cents,level_dbfs\n");
    std::array<float, 1024> block{};
    while (const std::size_t got = file->read(block)) {
        const auto output = tracker.process(std::span(block).first(got));
        for (const PitchFrame& frame : options.stream == "provisional" ? output.provisional : output.settled)
            printFrame(frame);
    }
    for (const std::string& remark : file->remarks()) fmt::print(stderr, "landfall: {}\n", remark);
    return 0;
}

}  // namespace landfall
