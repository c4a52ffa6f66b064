// Keeps the sound of a try as a 24-bit FLAC file, from half a second before its onset, written by a thread of its own.
#pragma once

#include <cstddef>
#include <filesystem>
#include <functional>
#include <memory>
#include <span>
#include <string>

#include "dsp/units.h"

namespace landfall {

class TakeKeeper {
public:
    struct Config {
        double sampleRate = 48000.0;
        Seconds before{0.5};       // kept ahead of the onset
        Seconds remembered{30.0};  // the longest try; of a longer one the end is kept
        std::size_t waiting = 8;   // takes that may wait for a slow disk; more are dropped and said
    };

    // Called by the writing thread when a take is on the disk or could not be: `error` is empty or one line that names
    // the file and says what to do. Practising goes on either way.
    struct Kept {
        std::filesystem::path file;
        std::string error;
    };

    TakeKeeper(const Config& config, std::function<void(const Kept&)> done);
    ~TakeKeeper();  // writes what waits first
    TakeKeeper(const TakeKeeper&) = delete;
    TakeKeeper& operator=(const TakeKeeper&) = delete;

    // Analysis thread: exactly the samples that the Listener hears (already quantised, dsp/quantise.h). A copy into a
    // ring, nothing else.
    void hear(std::span<const float> samples) noexcept;

    // Analysis thread, when a try has ended: times count from the first sample heard. Copies what is asked for into a
    // buffer made ready before and leaves the rest to the writing thread. False: nothing of it is remembered or too
    // many wait; `done` is then told.
    bool keep(Seconds onset, Seconds end, const std::filesystem::path& file);

private:
    struct State;
    std::unique_ptr<State> state;
};

}  // namespace landfall
