// `landfall track TAKE`: pitch frames of a sound file as CSV.
#include <array>
#include <memory>
#include <string>

#include <CLI/CLI.hpp>
#include <fmt/core.h>

#include "dsp/pitch_tracker.h"
#include "src/app/commands.h"
#include "src/audio/sound_file.h"

namespace landfall {

namespace {

struct TrackOptions {
    std::string take;
    std::string stream = "settled";
    int channel = 1;
};

void printFrame(const PitchFrame& frame) {
    if (frame.pitch)
        fmt::print("{:.6f},{:.4f},{:.6f},{:.3f},{:.2f}\n", frame.available.value, frame.pitch->value, frame.centre.value,
                   frame.sd.value, frame.level.value);
    else
        fmt::print("{:.6f},,{:.6f},,{:.2f}\n", frame.available.value, frame.centre.value, frame.level.value);
}

int track(const TrackOptions& options) {
    auto file = SoundFile::open(options.take, options.channel);
    if (!file) {
        fmt::print(stderr, "landfall: {}\n", file.error().message);
        return 1;
    }
    PitchTracker tracker({.sampleRate = file->sampleRate()});
    fmt::print("time_s,f0_hz,centre_s,sd_cents,level_dbfs\n");
    std::array<float, 1024> block{};
    while (const std::size_t got = file->read(block)) {
        const auto output = tracker.process(std::span(block).first(got));
        for (const PitchFrame& frame : options.stream == "provisional" ? output.provisional : output.settled) printFrame(frame);
    }
    for (const std::string& remark : file->remarks()) fmt::print(stderr, "landfall: {}\n", remark);
    return 0;
}

}  // namespace

void addTrackCommand(CLI::App& app, int& status) {
    auto options = std::make_shared<TrackOptions>();
    CLI::App* command = app.add_subcommand("track", "Print the pitch frames of a sound file as CSV");
    command->add_option("TAKE", options->take, "sound file")->required();
    command->add_option("--stream", options->stream, "which stream")->check(CLI::IsMember({"provisional", "settled"}))->capture_default_str();
    command->add_option("--channel", options->channel, "channel, from 1")->capture_default_str();
    command->callback([options, &status] { status = track(*options); });
}

}  // namespace landfall
