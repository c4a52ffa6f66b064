#include "src/app/sound_source.h"

#include <algorithm>
#include <array>
#include <chrono>
#include <thread>

#include "src/audio/playback.h"
#include "src/audio/sound_file.h"
#include "src/audio/tone.h"

namespace landfall {

namespace {

Seconds clockNow() { return Seconds(std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count()); }

constexpr std::size_t pacedBlock = 128;
constexpr double stillPlaying = 0.005;  // s; the player renders in periods, so that less than one of them may be left

class DeviceSource : public SoundSource {
public:
    DeviceSource(std::unique_ptr<AudioDevice> opened, const SourceWish& wish)
        : device(std::move(opened)), named(!wish.device.empty()), level(wish.soundLevel) {}

    double sampleRate() const override { return device->sampleRate(); }
    bool live() const override { return true; }

    Heard read(std::span<float> block) override {
        const Chunk chunk = device->read(block);
        given += chunk.samples + chunk.missing;
        if (device->sampleRate() > 0.0 && !tone) {
            tone.emplace(device->sampleRate());
            recording.emplace(device->sampleRate());
        }
        if (tone && device->outputRoom() > 0) {
            std::array<float, 1024> out{};
            const auto room = std::span(out).first(std::min(out.size(), device->outputRoom()));
            tone->render(room);
            recording->add(room);
            device->write(room);
        }
        return {chunk.samples, chunk.missing, false};
    }

    InputLevels levels() override { return device->takeLevels(); }

    std::optional<DeviceReport> report() override {
        using Kind = DeviceReport::Kind;
        auto next = device->nextReport();
        if (!next) return std::nullopt;
        const bool ran = device->sampleRate() > 0.0;
        refused = !ran && (next->kind == Kind::refusedRate || next->kind == Kind::failed || (next->kind == Kind::noSuchDevice && !named));
        if (next->kind == Kind::noSuchDevice && named) next->line += "; waiting for it";
        return next;
    }

    bool hopeless() const override { return refused; }

    bool sound(Hertz frequency, Seconds length) override {
        if (!tone || !device->hasOutput()) return false;
        tone->play(frequency, length, level);
        return true;
    }

    void play(std::shared_ptr<const std::vector<float>> samples, double rate) override {
        if (!recording || !device->hasOutput()) return;
        recording->play(std::move(samples), rate, level);
    }
    void silence() override {
        if (recording) recording->stop();
    }
    bool playing() const override { return recording && recording->playing(); }
    void soundLevel(Decibels loudest) override { level = loudest; }

    Seconds behind() const override {
        const auto delivered = device->counters().frames;
        return Seconds(delivered > given && sampleRate() > 0.0 ? static_cast<double>(delivered - given) / sampleRate() : 0.0);
    }

private:
    std::unique_ptr<AudioDevice> device;
    bool named;  // a named device may be plugged in any moment
    bool refused = false;
    Decibels level;
    std::optional<Tone> tone;
    std::optional<Playback> recording;
    std::uint64_t given = 0;
};

class FileSource : public SoundSource {
public:
    explicit FileSource(SoundFile opened) : file(std::move(opened)) {}
    double sampleRate() const override { return file.sampleRate(); }
    Heard read(std::span<float> block) override {
        const std::size_t got = file.read(block);
        return {got, 0, got < block.size()};
    }
    std::vector<std::string> remarks() const override { return file.remarks(); }

private:
    SoundFile file;
};

}  // namespace

SimulatedSource::SimulatedSource(const SimulatedPlayer::Config& config, bool realTime, double times)
    : player(config), rate(config.sampleRate), paced(realTime), pace(times) {}

SoundSource::Heard SimulatedSource::read(std::span<float> block) {
    if (paced) {
        if (!began) began = clockNow();
        const double due = (clockNow() - *began).value * rate * pace - static_cast<double>(given);
        // In blocks, as a device gives them.
        const auto blocks = static_cast<std::size_t>(std::max(0.0, due)) / pacedBlock;
        block = block.first(std::min(block.size(), blocks * pacedBlock));
    }
    player.read(block);
    given += block.size();
    return {block.size(), 0, false};
}

// A try whenever the last one has rung out; every fourth one after some noodling, which must not be marked.
void SimulatedSource::asked(const DrillState& state) {
    if (state.phase != DrillPhase::asking || state.moves.empty() || player.queued().value > stillPlaying) return;
    if (played % 4 == 3) {
        player.noodle(Seconds(1.5), state.place);
        player.rest(Seconds(0.6));
    }
    player.rest(Seconds(0.9));
    player.play(state.moves);
    player.rest(Seconds(0.9));
    ++played;
}

void SimulatedSource::askedString(int string) {
    if (string < 1 || player.queued().value > stillPlaying) return;
    player.playOpenString(string);
    player.rest(Seconds(0.3));
}

void SourceWish::fillIn(const Settings& settings) {
    const bool fromDevice = kind() == SourceKind::device;
    if (fromDevice && device.empty()) device = settings.deviceName;
    if (channel == 0) channel = fromDevice ? settings.channel : 1;
    if (frames == 0) frames = settings.frames;
    guitar = settings.guitar;
    output = settings.outputName;
    soundLevel = settings.soundLevel;
}

Result<std::unique_ptr<SoundSource>> openSource(const SourceWish& wish) {
    if (wish.kind() == SourceKind::device) {
        auto device = AudioDevice::open({.input = wish.device,
                                         .channel = wish.channel,
                                         .rate = wish.rate,
                                         .frames = wish.frames,
                                         .wantsOutput = wish.wantsOutput,
                                         .output = wish.output});
        if (!device) return device.error();
        return std::unique_ptr<SoundSource>(new DeviceSource(std::move(*device), wish));
    }
    if (wish.kind() == SourceKind::simulated) {
        const double rate = wish.rate > 0 ? wish.rate : 48000.0;
        return std::unique_ptr<SoundSource>(new SimulatedSource(
            {.sampleRate = rate, .seed = wish.seed, .guitar = wish.guitar, .skill = wish.skill}, wish.paced, wish.pace));
    }
    auto file = SoundFile::open(wish.input, wish.channel);
    if (!file) return file.error();
    return std::unique_ptr<SoundSource>(new FileSource(std::move(*file)));
}

}  // namespace landfall
