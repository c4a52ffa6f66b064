// Reads one channel of a sound file in blocks, through libsndfile. One thread at a time.
#pragma once

#include <filesystem>
#include <memory>
#include <span>

#include "src/system/result.h"

namespace landfall {

class SoundFile {
public:
    // `channel` counts from 1.
    static Result<SoundFile> open(const std::filesystem::path& path, int channel = 1);
    ~SoundFile();
    SoundFile(SoundFile&&) noexcept;
    SoundFile& operator=(SoundFile&&) noexcept;

    double sampleRate() const;
    // How many samples were read; fewer than asked for only at the end.
    std::size_t read(std::span<float> samples);

private:
    struct State;
    explicit SoundFile(std::unique_ptr<State> opened);
    std::unique_ptr<State> state;
};

}  // namespace landfall
