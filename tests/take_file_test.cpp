#include "src/audio/take_file.h"

#include <doctest/doctest.h>

#include <cmath>
#include <cstdlib>
#include <limits>
#include <vector>

#include "dsp/quantise.h"
#include "src/audio/simulated_player.h"
#include "src/audio/sound_file.h"
#include "tests/support/command.h"
#include "tests/support/students.h"

using namespace landfall;

namespace {

std::vector<float> listened(double seconds) {
    SimulatedPlayer::Config config;
    config.skill = noor();
    SimulatedPlayer player(config);
    player.play(Move{Gesture::bend, MidiPitch(62), MidiPitch(64), NeckPlace{3, 7}, {}});
    std::vector<float> samples(static_cast<std::size_t>(seconds * 48000.0));
    player.read(samples);
    quantise(samples);
    return samples;
}

void hear(TakeKeeper& keeper, std::span<const float> samples) {
    for (std::size_t i = 0; i < samples.size(); i += 128)
        keeper.hear(samples.subspan(i, std::min<std::size_t>(128, samples.size() - i)));
}

}  // namespace

TEST_CASE("rounding to 24 bits is exact at the edges and changes nothing the second time") {
    CHECK(to24Bit(0.0F) == 0);
    CHECK(to24Bit(1.0F) == 8388607);
    CHECK(to24Bit(-1.0F) == -8388608);
    CHECK(to24Bit(-3.0F) == -8388608);
    CHECK(to24Bit(std::numeric_limits<float>::infinity()) == 8388607);
    CHECK(to24Bit(std::numeric_limits<float>::quiet_NaN()) == 0);
    CHECK(to24Bit(0.6F / 8388608.0F) == 1);
    CHECK(to24Bit(-0.4F / 8388608.0F) == 0);
    for (const std::int32_t value : {-8388608, -8388607, -4194305, -1, 0, 1, 77, 4194303, 8388606, 8388607}) {
        CHECK(to24Bit(from24Bit(value)) == value);
        CHECK(quantise(from24Bit(value)) == from24Bit(value));
    }
}

TEST_CASE("a kept take is bit for bit what was heard, from half a second before the onset") {
    const TestFolder folder;
    auto samples = listened(3.0);
    samples[60000] = from24Bit(8388607);
    samples[60001] = from24Bit(-8388608);
    samples[60002] = from24Bit(1);
    std::vector<TakeKeeper::Kept> kept;
    {
        TakeKeeper keeper({.remembered = Seconds(5.0)},
                          [&kept](const TakeKeeper::Kept& take) { kept.push_back(take); });
        hear(keeper, samples);
        CHECK(keeper.keep(Seconds(1.0), Seconds(2.5), folder / "sitting" / "try-1.flac"));
        CHECK(keeper.keep(Seconds(0.1), Seconds(9.0), folder / "try-2.flac"));
    }
    REQUIRE(kept.size() == 2);
    for (const auto& take : kept) {
        CHECK(take.error == "");
        CHECK(std::filesystem::status(take.file).permissions()
              == (std::filesystem::perms::owner_read | std::filesystem::perms::owner_write));
    }
    auto first = SoundFile::open(kept[0].file), second = SoundFile::open(kept[1].file);
    REQUIRE(first);
    REQUIRE(second);
    std::vector<float> read(200000);
    read.resize(first->read(read));
    CHECK(first->sampleRate() == 48000.0);
    CHECK(read == std::vector<float>(samples.begin() + 24000, samples.begin() + 120000));
    read.resize(200000);
    read.resize(second->read(read));
    CHECK(read == samples);
}

TEST_CASE("what is older than the memory is cut off, and what is gone is said") {
    const TestFolder folder;
    std::vector<TakeKeeper::Kept> kept;
    const auto samples = listened(3.0);
    {
        TakeKeeper keeper({.remembered = Seconds(0.5)},
                          [&kept](const TakeKeeper::Kept& take) { kept.push_back(take); });
        hear(keeper, samples);
        CHECK(keeper.keep(Seconds(1.0), Seconds(3.0), folder / "long.flac"));
        CHECK_FALSE(keeper.keep(Seconds(0.2), Seconds(1.0), folder / "gone.flac"));
    }
    REQUIRE(kept.size() == 2);
    auto file = SoundFile::open(folder / "long.flac");
    REQUIRE(file);
    std::vector<float> read(200000);
    read.resize(file->read(read));
    CHECK(read == std::vector<float>(samples.end() - 48000, samples.end()));
    CHECK(kept[1].error.find("gone.flac") != std::string::npos);
    CHECK_FALSE(std::filesystem::exists(folder / "gone.flac"));
}

TEST_CASE("a folder that cannot be written is named and nothing else happens") {
    const TestFolder folder;
    std::vector<TakeKeeper::Kept> kept;
    const auto samples = listened(1.0);
    {
        TakeKeeper keeper({}, [&kept](const TakeKeeper::Kept& take) { kept.push_back(take); });
        hear(keeper, samples);
        keeper.keep(Seconds(0.2), Seconds(0.9), "/proc/landfall/try.flac");
        keeper.keep(Seconds(0.2), Seconds(0.9), folder / "good.flac");
    }
    REQUIRE(kept.size() == 2);
    CHECK(kept[0].error.find("/proc/landfall/try.flac") != std::string::npos);
    CHECK(kept[0].error.find('\n') == std::string::npos);
    CHECK(kept[1].error == "");
}

TEST_CASE("a full disk costs the take and leaves no half file") {
    // /dev/full answers every write with ENOSPC.
    if (!std::filesystem::exists("/dev/full")) return;
    const TestFolder folder;
    std::filesystem::create_symlink("/dev/full", folder / "try.flac.part");
    std::vector<TakeKeeper::Kept> kept;
    {
        TakeKeeper keeper({}, [&kept](const TakeKeeper::Kept& take) { kept.push_back(take); });
        const auto samples = listened(1.0);
        hear(keeper, samples);
        keeper.keep(Seconds(0.2), Seconds(0.9), folder / "try.flac");
    }
    REQUIRE(kept.size() == 1);
    CHECK(kept[0].error.find("try.flac") != std::string::npos);
    CHECK_FALSE(std::filesystem::exists(folder / "try.flac"));
    CHECK_FALSE(std::filesystem::exists(folder / "try.flac.part"));
}
