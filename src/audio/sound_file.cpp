#include "src/audio/sound_file.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <cstring>
#include <fstream>
#include <optional>

#include <fmt/core.h>
#include <sndfile.h>

#include "dsp/quantise.h"
#include "src/system/machine.h"
#include "src/system/printable.h"

namespace landfall {

namespace {

constexpr const char* kinds = "WAV, FLAC, AIFF or Ogg";

// libmpg123, which libsndfile asks for MPEG sound, prints what it thinks of a damaged file, and libsndfile has no way
// to tell it not to. Of 450 damaged files of 18 kinds no other made a decoder print.
template <typename Call>
auto quietly(bool mpeg, Call&& call) {
    if (!mpeg) return call();
    const QuietErrors quiet;
    return call();
}

std::optional<Error> whyNot(const std::filesystem::path& path) {
    std::error_code failure;
    const auto status = std::filesystem::status(path, failure);
    const std::string name = path.string();
    if (status.type() == std::filesystem::file_type::not_found)
        return Error{Error::Code::notFound,
                     fmt::format("{}: there is no such file; check the name and the folder", name)};
    if (failure)
        return Error{
            Error::Code::unreadable,
            fmt::format("{}: cannot be looked at ({}); check the rights of its folder", name, failure.message())};
    if (status.type() == std::filesystem::file_type::directory)
        return Error{Error::Code::badInput, fmt::format("{}: is a folder; name a sound file in it", name)};
    if (status.type() != std::filesystem::file_type::regular)  // opening a pipe would wait for who writes into it
        return Error{Error::Code::badInput,
                     fmt::format("{}: is a pipe or a device, not a file; name a sound file", name)};
    if (!std::ifstream(path, std::ios::binary))
        return Error{Error::Code::unreadable,
                     fmt::format("{}: may not be read; give yourself the right to read it", name)};
    if (std::filesystem::file_size(path, failure) == 0)
        return Error{Error::Code::badInput, fmt::format("{}: is empty (0 bytes); record or copy it again", name)};
    return std::nullopt;
}

// Bytes of sound that a RIFF WAV file's header promises and that are not there; libsndfile reads on without a word.
// Layout: Multimedia Programming Interface and Data Specifications 1.0 (IBM, Microsoft 1991). 0 and FFFFFFFF are
// written by recorders that did not know the length.
std::uint64_t missingWaveBytes(const std::filesystem::path& path) {
    std::error_code failure;
    const std::uint64_t size = std::filesystem::file_size(path, failure);
    std::ifstream file(path, std::ios::binary);
    std::array<unsigned char, 12> head{};
    if (failure || !file.read(reinterpret_cast<char*>(head.data()), 12)) return 0;
    if (std::memcmp(head.data(), "RIFF", 4) != 0 || std::memcmp(head.data() + 8, "WAVE", 4) != 0) return 0;
    std::uint64_t place = 12;
    while (file.seekg(static_cast<std::streamoff>(place)) && file.read(reinterpret_cast<char*>(head.data()), 8)) {
        std::uint64_t length = 0;
        for (std::size_t i = 8; i-- > 4;) length = length << 8U | head[i];
        place += 8;
        if (std::memcmp(head.data(), "data", 4) == 0)
            return length == 0 || length == 0xFFFFFFFFU || place + length <= size ? 0 : place + length - size;
        place += length + (length & 1U);
    }
    return 0;
}

}  // namespace

struct SoundFile::State {
    std::string name;
    SNDFILE* file = nullptr;
    SF_INFO info{};
    std::size_t channel = 0;
    std::vector<float> frames;
    std::uint64_t missingBytes = 0;
    std::uint64_t got = 0, cleaned = 0;
    double peak = 0.0, sum = 0.0;
    int inARow = 0;             // at full scale
    std::uint64_t clipped = 0;  // samples from the third in a row at full scale on, as the Listener counts them
    void weigh(float sample) {
        const double size = std::abs(sample);
        peak = std::max(peak, size);
        sum += sample;
        inARow = size >= 0.9999 ? inARow + 1 : 0;
        clipped += inARow >= 3 ? 1 : 0;
    }
    bool ended = false;
    State() = default;
    State(const State&) = delete;
    State& operator=(const State&) = delete;
    ~State() {
        if (file != nullptr) quietly(isMpeg(), [&] { return sf_close(file); });
    }
    bool isMpeg() const { return (info.format & SF_FORMAT_TYPEMASK) == SF_FORMAT_MPEG; }
};

SoundFile::SoundFile(std::unique_ptr<State> opened) : state(std::move(opened)) {}
SoundFile::~SoundFile() = default;
SoundFile::SoundFile(SoundFile&&) noexcept = default;
SoundFile& SoundFile::operator=(SoundFile&&) noexcept = default;

Result<SoundFile> SoundFile::open(const std::filesystem::path& path, int channel) {
    if (const auto error = whyNot(path)) return *error;
    auto state = std::make_unique<State>();
    state->name = printable(path.string());
    // which kind it is shows only now
    state->file = quietly(true, [&] { return sf_open(path.c_str(), SFM_READ, &state->info); });
    if (state->file == nullptr)
        return Error{Error::Code::badInput,
                     fmt::format("{}: is not a sound file that can be read; save it as {}", state->name, kinds)};
    const SF_INFO& info = state->info;
    if (info.samplerate < lowestRate || info.samplerate > highestRate)
        return Error{Error::Code::unsupported,
                     fmt::format("{}: has {} samples a second; convert it to between {} and {}, best 48000",
                                 state->name, info.samplerate, lowestRate, highestRate)};
    if (channel < 1 || channel > info.channels)
        return Error{Error::Code::badInput,
                     info.channels == 1
                         ? fmt::format("{}: has one channel; channel {} cannot be chosen, only 1", state->name, channel)
                         : fmt::format("{}: has {} channels; channel {} cannot be chosen, only 1 to {}", state->name,
                                       info.channels, channel, info.channels)};
    state->channel = static_cast<std::size_t>(channel - 1);
    state->missingBytes = missingWaveBytes(path);
    return SoundFile(std::move(state));
}

double SoundFile::sampleRate() const { return state->info.samplerate; }

std::size_t SoundFile::read(std::span<float> samples) {
    const auto channels = static_cast<std::size_t>(state->info.channels);
    state->frames.resize(samples.size() * channels);
    const auto got = static_cast<std::size_t>(std::max<sf_count_t>(
        0, quietly(state->isMpeg(), [&] {
            return sf_readf_float(state->file, state->frames.data(), static_cast<sf_count_t>(samples.size()));
        })));
    for (std::size_t i = 0; i < got; ++i) {
        const float sample = state->frames[i * channels + state->channel];
        if (!std::isfinite(sample)) ++state->cleaned;
        samples[i] = std::isfinite(sample) ? sample : 0.0F;
        state->weigh(samples[i]);
    }
    state->got += got;
    state->ended = got < samples.size();
    return got;
}

std::vector<std::string> SoundFile::remarks() const {
    std::vector<std::string> lines;
    const State& s = *state;
    const double rate = s.info.samplerate, seconds = static_cast<double>(s.got) / rate;
    if (s.info.channels > 1)
        lines.push_back(fmt::format("{}: has {} channels; channel {} is read (choose with --channel)", s.name,
                                    s.info.channels, s.channel + 1));
    const bool short_ = s.ended && s.info.frames > 0 && s.got < static_cast<std::uint64_t>(s.info.frames);
    if (s.ended && s.got == 0) lines.push_back(fmt::format("{}: holds no sound; record or copy it again", s.name));
    else if (s.ended && s.missingBytes > 0)
        lines.push_back(fmt::format("{}: is cut short: {} bytes are missing, {:.2f} s were there and were read", s.name,
                                    s.missingBytes, seconds));
    else if (short_)
        lines.push_back(fmt::format("{}: is cut short: {:.2f} s of {:.2f} s were there and were read", s.name, seconds,
                                    static_cast<double>(s.info.frames) / rate));
    // Below -60 dBFS no note opens the gate; a twentieth of full scale off zero for a second is no playing.
    if (s.got > 0 && s.peak < 0.001)
        lines.push_back(
            fmt::format("{}: channel {} is silent (peak {:.0f} dBFS); choose another with --channel, or record louder",
                        s.name, s.channel + 1, 20.0 * std::log10(s.peak + 1e-7)));
    if (s.clipped > 0)
        lines.push_back(fmt::format("{}: clips in {} samples; record with less gain", s.name, s.clipped));
    if (const double offset = s.got > 0 ? s.sum / static_cast<double>(s.got) : 0.0;
        seconds >= 1.0 && std::abs(offset) > 0.05)
        lines.push_back(
            fmt::format("{}: stands {:+.2f} of full scale off zero; the interface or the cable is faulty, record again",
                        s.name, offset));
    if (s.cleaned > 0)
        lines.push_back(
            fmt::format("{}: {} samples are infinite or not numbers, and were read as silence; export it again if "
                        "landings are missing",
                        s.name, s.cleaned));
    return lines;
}

Result<void> writeFlac(const std::filesystem::path& path, double sampleRate, std::span<const float> samples) {
    const std::string name = path.string();
    std::error_code failure;
    if (path.has_parent_path()) std::filesystem::create_directories(path.parent_path(), failure);
    if (failure)
        return Error{Error::Code::unwritable,
                     fmt::format("{}: its folder cannot be made ({})", name, failure.message())};
    std::filesystem::path part = path;
    part += ".part";
    SF_INFO info{};
    info.samplerate = static_cast<int>(sampleRate);
    info.channels = 1;
    info.format = SF_FORMAT_FLAC | SF_FORMAT_PCM_24;
    SNDFILE* file = sf_open(part.c_str(), SFM_WRITE, &info);
    if (file == nullptr)
        return Error{Error::Code::unwritable,
                     fmt::format("{}: cannot be written; check the folder's rights and space", name)};
    // A take is somebody's practice: its owner's alone, wherever it is moved to.
    std::error_code ignored;
    std::filesystem::permissions(part, std::filesystem::perms::owner_read | std::filesystem::perms::owner_write,
                                 ignored);
    // As integers, left-justified in 32 bits as libsndfile asks: its way from float would scale by 2^23 - 1.
    std::vector<int> values(samples.size());
    std::transform(samples.begin(), samples.end(), values.begin(), [](float sample) { return to24Bit(sample) * 256; });
    const auto count = static_cast<sf_count_t>(values.size());
    const bool written = sf_write_int(file, values.data(), count) == count;
    const bool closed = sf_close(file) == 0;
    if (written && closed) std::filesystem::rename(part, path, failure);
    if (written && closed && !failure) return {};
    std::filesystem::remove(part, ignored);
    return Error{Error::Code::full, fmt::format("{}: could not be written whole; free some disk space", name)};
}

}  // namespace landfall
