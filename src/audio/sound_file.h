// Reads one channel of a sound file in blocks and says what was wrong with it; writes FLAC. Through libsndfile. One
// thread at a time.
#pragma once

#include <filesystem>
#include <memory>
#include <span>
#include <string>
#include <vector>

#include "src/system/result.h"

namespace landfall {

class SoundFile {
public:
    static constexpr int lowestRate = 16000, highestRate = 192000;

    // `channel` counts from 1. Fails in one line that names the file and the remedy: missing, a folder, no permission,
    // empty, no sound file, a rate outside 16 to 192 kHz, no such channel.
    static Result<SoundFile> open(const std::filesystem::path& path, int channel = 1);
    ~SoundFile();
    SoundFile(SoundFile&&) noexcept;
    SoundFile& operator=(SoundFile&&) noexcept;

    double sampleRate() const;

    // How many samples were read; fewer than asked for only at the end. A sample that is no number or infinite is read
    // as 0 and counted. Float files may pass full scale; nothing is clipped or rounded here (dsp/quantise.h does,
    // before the Listener).
    std::size_t read(std::span<float> samples);

    // What the caller should pass on, a line each: the channel taken out of several (from the start); the file was cut
    // short, is silent, clips, stands off zero, samples were no numbers (complete once everything is read).
    std::vector<std::string> remarks() const;

private:
    struct State;
    explicit SoundFile(std::unique_ptr<State> opened);
    std::unique_ptr<State> state;
};

// One channel of 24 bits (dsp/quantise.h). Whole or not at all: written beside its name and renamed. Makes the folder.
Result<void> writeFlac(const std::filesystem::path& path, double sampleRate, std::span<const float> samples);

}  // namespace landfall
