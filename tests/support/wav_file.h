// A WAV file of 24 bits as a recorder would leave it. Plain function.
#pragma once

#include <filesystem>
#include <vector>

#include <doctest/doctest.h>
#include <sndfile.h>

namespace landfall {

inline void writeWav(const std::filesystem::path& file, double rate, const std::vector<float>& samples) {
    SF_INFO info{};
    info.samplerate = static_cast<int>(rate);
    info.channels = 1;
    info.format = SF_FORMAT_WAV | SF_FORMAT_PCM_24;
    SNDFILE* out = sf_open(file.c_str(), SFM_WRITE, &info);
    REQUIRE(out != nullptr);
    sf_writef_float(out, samples.data(), static_cast<sf_count_t>(samples.size()));
    sf_close(out);
}

}  // namespace landfall
