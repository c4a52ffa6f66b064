#include "src/audio/sound_file.h"

#include <doctest/doctest.h>
#include <sndfile.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <limits>
#include <string>
#include <tuple>
#include <vector>

#include "tests/support/command.h"

using namespace landfall;

namespace {

void writeSound(const std::filesystem::path& path, int rate, int channels, int format,
                const std::vector<float>& interleaved) {
    SF_INFO info{};
    info.samplerate = rate;
    info.channels = channels;
    info.format = format;
    SNDFILE* file = sf_open(path.c_str(), SFM_WRITE, &info);
    REQUIRE(file != nullptr);
    REQUIRE(sf_write_float(file, interleaved.data(), static_cast<sf_count_t>(interleaved.size()))
            == static_cast<sf_count_t>(interleaved.size()));
    sf_close(file);
}

constexpr int floatWave = SF_FORMAT_WAV | SF_FORMAT_FLOAT;

std::vector<float> readAll(SoundFile& file, std::size_t block = 1000) {
    std::vector<float> all, part(block);
    while (const std::size_t got = file.read(part))
        all.insert(all.end(), part.begin(), part.begin() + static_cast<std::ptrdiff_t>(got));
    return all;
}

std::string refusal(const std::filesystem::path& path, int channel = 1) {
    const auto file = SoundFile::open(path, channel);
    REQUIRE_FALSE(file);
    const std::string& message = file.error().message;
    CHECK(message.find(path.filename().string()) != std::string::npos);
    CHECK(message.find('\n') == std::string::npos);
    return message;
}

std::vector<float> ramp(std::size_t count) {
    std::vector<float> samples(count);
    for (std::size_t i = 0; i < count; ++i) samples[i] = static_cast<float>(i) / static_cast<float>(count);
    return samples;
}

}  // namespace

TEST_CASE("every rate from 16 to 192 kHz is read sample for sample") {
    const TestFolder folder;
    for (const int rate : {16000, 22050, 44100, 48000, 88200, 96000, 192000}) {
        const auto samples = ramp(5000);
        writeSound(folder / "take.wav", rate, 1, floatWave, samples);
        auto file = SoundFile::open(folder / "take.wav");
        REQUIRE(file);
        CHECK(file->sampleRate() == rate);
        CHECK(readAll(*file, 777) == samples);
        CHECK(file->remarks().empty());
    }
}

TEST_CASE("of eight channels the chosen one is read, the first by itself, and that is said") {
    const TestFolder folder;
    std::vector<float> frames;
    for (int i = 0; i < 100; ++i)
        for (int channel = 1; channel <= 8; ++channel) frames.push_back(static_cast<float>(channel) / 16.0F);
    writeSound(folder / "eight.wav", 48000, 8, floatWave, frames);
    for (const int channel : {1, 5, 8}) {
        auto file = SoundFile::open(folder / "eight.wav", channel);
        REQUIRE(file);
        const auto samples = readAll(*file);
        REQUIRE(samples.size() == 100);
        CHECK(samples[50] == static_cast<float>(channel) / 16.0F);
        REQUIRE(file->remarks().size() == 1);
        CHECK(file->remarks()[0].find("channel " + std::to_string(channel) + " is read") != std::string::npos);
    }
    CHECK(refusal(folder / "eight.wav", 9).find("only 1 to 8") != std::string::npos);
    CHECK(refusal(folder / "eight.wav", 0).find("only 1 to 8") != std::string::npos);
}

TEST_CASE("a silent, a clipping and an offset recording each get one line with the remedy; a good one gets none") {
    const TestFolder folder;
    const auto remarks = [&](float swing, float offset) {
        std::vector<float> samples(48000);
        for (std::size_t i = 0; i < samples.size(); ++i) samples[i] = offset + (i / 60 % 2 == 0 ? swing : -swing);
        writeSound(folder / "take.wav", 48000, 1, floatWave, samples);
        auto file = SoundFile::open(folder / "take.wav");
        REQUIRE(file);
        readAll(*file, 777);
        return file->remarks();
    };
    for (const auto& [swing, offset, said] :
         std::vector<std::tuple<float, float, std::string>>{{0.0F, 0.0F, "channel 1 is silent"},
                                                            {0.0009F, 0.0F, "channel 1 is silent"},
                                                            {1.0F, 0.0F, "clips in 47998 samples"},
                                                            {0.3F, 0.5F, "stands +0.50 of full scale"}}) {
        const auto lines = remarks(swing, offset);
        REQUIRE(lines.size() == 1);
        CHECK(lines[0].find(said) != std::string::npos);
    }
    CHECK(remarks(0.3F, 0.01F).empty());
}

TEST_CASE("samples that are no numbers are read as silence and counted") {
    const TestFolder folder;
    auto samples = ramp(1000);
    samples[10] = std::numeric_limits<float>::quiet_NaN();
    samples[500] = std::numeric_limits<float>::infinity();
    samples[999] = -std::numeric_limits<float>::infinity();
    writeSound(folder / "nan.wav", 48000, 1, floatWave, samples);
    auto file = SoundFile::open(folder / "nan.wav");
    REQUIRE(file);
    const auto read = readAll(*file);
    REQUIRE(read.size() == 1000);
    for (const float sample : read) CHECK(std::isfinite(sample));
    CHECK(read[11] == samples[11]);
    REQUIRE(file->remarks().size() == 1);
    CHECK(file->remarks()[0].find("3 samples") != std::string::npos);
}

TEST_CASE("a file cut short is read as far as it goes, and that is said") {
    const TestFolder folder;
    for (const auto& [name, format] : {std::pair{"cut.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_24},
                                       std::pair{"cut.flac", SF_FORMAT_FLAC | SF_FORMAT_PCM_24}}) {
        CAPTURE(name);
        std::vector<float> samples(48000);
        for (std::size_t i = 0; i < samples.size(); ++i)
            samples[i] =
                0.5F * std::sin(0.03F * static_cast<float>(i)) + 0.1F * std::sin(static_cast<float>(i * i % 1000));
        writeSound(folder / name, 48000, 1, format, samples);
        std::filesystem::resize_file(folder / name, std::filesystem::file_size(folder / name) / 2);
        auto file = SoundFile::open(folder / name);
        REQUIRE(file);
        const auto read = readAll(*file);
        CHECK(read.size() > 15000);
        CHECK(read.size() < 30000);
        REQUIRE(file->remarks().size() == 1);
        CHECK(file->remarks()[0].find("cut short") != std::string::npos);
    }
}

TEST_CASE("a WAV whose recorder did not know its length is not called cut short") {
    const TestFolder folder;
    writeSound(folder / "stream.wav", 48000, 1, floatWave, ramp(1000));
    std::fstream file(folder / "stream.wav", std::ios::in | std::ios::out | std::ios::binary);
    std::string bytes((std::istreambuf_iterator<char>(file)), {});
    const auto data = bytes.find("data");
    REQUIRE(data != std::string::npos);
    file.clear();
    file.seekp(static_cast<std::streamoff>(data + 4));
    file.write("\xFF\xFF\xFF\xFF", 4);
    file.close();
    auto opened = SoundFile::open(folder / "stream.wav");
    REQUIRE(opened);
    CHECK(readAll(*opened).size() == 1000);
    CHECK(opened->remarks().empty());
}

TEST_CASE("what is no sound file is refused in one line with the remedy") {
    const TestFolder folder;
    CHECK(refusal(folder / "nothing.wav").find("no such file") != std::string::npos);
    std::filesystem::create_directory(folder / "folder.wav");
    CHECK(refusal(folder / "folder.wav").find("is a folder") != std::string::npos);
    REQUIRE(mkfifo((folder / "pipe.wav").c_str(), 0600) == 0);  // nobody writes into it: opening it would wait for ever
    CHECK(refusal(folder / "pipe.wav").find("is a pipe or a device") != std::string::npos);
    CHECK(refusal("/dev/zero").find("is a pipe or a device") != std::string::npos);
    std::ofstream(folder / "zero.wav").close();
    CHECK(refusal(folder / "zero.wav").find("is empty") != std::string::npos);
    std::ofstream(folder / "text.wav") << "Dear diary, today the G string slipped.\n";
    CHECK(refusal(folder / "text.wav").find("save it as") != std::string::npos);
    std::ofstream(folder / "head.wav") << "RIFF";
    CHECK(refusal(folder / "head.wav").find("save it as") != std::string::npos);
    if (geteuid() != 0) {  // root may read everything
        writeSound(folder / "locked.wav", 48000, 1, floatWave, ramp(10));
        std::filesystem::permissions(folder / "locked.wav", std::filesystem::perms::none);
        CHECK(refusal(folder / "locked.wav").find("may not be read") != std::string::npos);
    }
}

TEST_CASE("what a decoder thinks of a damaged file stays off the screen") {
    const TestFolder folder;
    const auto file = folder / "take.mp3";
    writeSound(file, 48000, 1, SF_FORMAT_MPEG | SF_FORMAT_MPEG_LAYER_III, ramp(48000));
    const std::string good = readText(file);
    REQUIRE(good.size() > 4000);
    for (std::size_t at = 200; at < 4000; at += 97) {  // libmpg123 prints of one damaged header in three at least
        std::string damaged = good;
        for (std::size_t i = 0; i < 40; ++i) damaged[at + i] = static_cast<char>(at * 31 + i * 7);
        writeText(file, damaged);
        const auto ran = runCommand("'" LANDFALL_PROGRAM "' track '" + file.string() + "' 2>&1 >/dev/null");
        CAPTURE(ran.output);
        CHECK((ran.output.empty() || ran.output.starts_with("landfall: ")));
        CHECK(ran.output.find("mpg123") == std::string::npos);
        CHECK(ran.output.find("Note:") == std::string::npos);
        CHECK(ran.output.find("arning:") == std::string::npos);
    }
}

TEST_CASE("a rate outside 16 to 192 kHz is refused with the range") {
    const TestFolder folder;
    for (const int rate : {8000, 11025, 200000, 384000}) {
        writeSound(folder / "rate.wav", rate, 1, floatWave, ramp(100));
        CHECK(refusal(folder / "rate.wav").find("between 16000 and 192000") != std::string::npos);
    }
}

TEST_CASE("a sound file without a sample says so") {
    const TestFolder folder;
    writeSound(folder / "silent.wav", 48000, 1, floatWave, {});
    auto file = SoundFile::open(folder / "silent.wav");
    REQUIRE(file);
    CHECK(readAll(*file).empty());
    REQUIRE(file->remarks().size() == 1);
    CHECK(file->remarks()[0].find("holds no sound") != std::string::npos);
}
