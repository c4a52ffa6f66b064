#include "src/audio/sound_file.h"

#include <algorithm>
#include <vector>

#include <fmt/core.h>
#include <sndfile.h>

namespace landfall {

struct SoundFile::State {
    SNDFILE* file = nullptr;
    SF_INFO info{};
    std::size_t channel = 0;
    std::vector<float> frames;
    ~State() {
        if (file != nullptr) sf_close(file);
    }
};

SoundFile::SoundFile(std::unique_ptr<State> opened) : state(std::move(opened)) {}
SoundFile::~SoundFile() = default;
SoundFile::SoundFile(SoundFile&&) noexcept = default;
SoundFile& SoundFile::operator=(SoundFile&&) noexcept = default;

Result<SoundFile> SoundFile::open(const std::filesystem::path& path, int channel) {
    auto state = std::make_unique<State>();
    state->file = sf_open(path.c_str(), SFM_READ, &state->info);
    if (state->file == nullptr)
        return Error{Error::Code::unreadable,
                     fmt::format("{}: {} (a WAV, FLAC, AIFF or Ogg file is expected)", path.string(), sf_strerror(nullptr))};
    if (channel < 1 || channel > state->info.channels)
        return Error{Error::Code::badInput, fmt::format("{}: has {} channels, so channel {} cannot be chosen",
                                                        path.string(), state->info.channels, channel)};
    state->channel = static_cast<std::size_t>(channel - 1);
    return SoundFile(std::move(state));
}

double SoundFile::sampleRate() const { return state->info.samplerate; }

std::size_t SoundFile::read(std::span<float> samples) {
    const auto channels = static_cast<std::size_t>(state->info.channels);
    state->frames.resize(samples.size() * channels);
    const auto got = static_cast<std::size_t>(
        std::max<sf_count_t>(0, sf_readf_float(state->file, state->frames.data(), static_cast<sf_count_t>(samples.size()))));
    for (std::size_t i = 0; i < got; ++i) samples[i] = state->frames[i * channels + state->channel];
    return got;
}

}  // namespace landfall
