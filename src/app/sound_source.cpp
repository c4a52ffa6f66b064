#include "src/app/sound_source.h"

#include <algorithm>
#include <array>
#include <chrono>
#include <thread>

#include "src/audio/sound_file.h"

namespace landfall {

namespace {

Seconds clockNow() {
    return Seconds(std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count());
}

constexpr std::size_t pacedBlock = 128;
constexpr double stillPlaying = 0.005;  // s; the player renders in periods, so that less than one of them may be left

class DeviceSource : public SoundSource {
public:
    DeviceSource(std::unique_ptr<AudioDevice> opened, const SourceWish& wish)
        : device(std::move(opened)), named(!wish.device.empty()) {}

    double sampleRate() const override { return device->sampleRate(); }
    InputLevels levels() override { return device->takeLevels(); }
    SoundClock clock() const override { return device->clock(); }
    SoundOutput* output() override { return played && device->hasOutput() ? &*played : nullptr; }

    Heard read(std::span<float> block) override {
        const Chunk chunk = device->read(block);
        if (device->sampleRate() > 0.0 && !played) played.emplace(device->sampleRate());
        if (played && !device->hasOutput()) played->endRecording();  // nobody heard the rest of it
        if (played && device->outputRoom() > 0) {
            std::array<float, 1024> out{};
            const auto room = std::span(out).first(std::min(out.size(), device->outputRoom()));
            played->render(room);
            device->write(room);
        }
        return {chunk.samples, chunk.missing, false};
    }

    std::optional<DeviceReport> report() override {
        using Kind = DeviceReport::Kind;
        auto next = device->nextReport();
        if (!next) return std::nullopt;
        const bool ran = device->sampleRate() > 0.0;
        next->hopeless = !ran
                         && (next->kind == Kind::refusedRate || next->kind == Kind::failed
                             || (next->kind == Kind::noSuchDevice && !named));
        if (next->kind == Kind::noSuchDevice && named) next->line += "; waiting for it";
        return next;
    }

private:
    std::unique_ptr<AudioDevice> device;
    bool named;  // a named device may be plugged in any moment
    std::optional<SoundOutput> played;
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
    : student(config), rate(config.sampleRate), paced(realTime), pace(times) {}

SoundSource::Heard SimulatedSource::read(std::span<float> block) {
    if (paced) {
        if (!began) began = clockNow();
        const double due = (clockNow() - *began).value * rate * pace - static_cast<double>(given);
        // In blocks, as a device gives them.
        const auto blocks = static_cast<std::size_t>(std::max(0.0, due)) / pacedBlock;
        block = block.first(std::min(block.size(), blocks * pacedBlock));
    }
    student.read(block);
    given += block.size();
    return {block.size(), 0, false};
}

// A try whenever the last one has rung out; every fourth one after some noodling, which must not be marked.
void SimulatedSource::asked(const DrillState& state) {
    if (state.phase != DrillPhase::asking || state.moves.empty() || student.queued().value > stillPlaying) return;
    if (played % 4 == 3) {
        student.noodle(Seconds(1.5), state.place);
        student.rest(Seconds(0.6));
    }
    student.rest(Seconds(0.9));
    PlayerWish wish;
    if (state.subject == Subject::hold) wish.hold = Seconds(2.2);  // two seconds are asked
    if (state.subject == Subject::slow) wish.rise = Seconds(4.5);  // three, without its slow ends
    student.play(state.moves, wish);
    student.rest(Seconds(0.9));
    ++played;
}

// Pass after pass, with time to hear of each.
void SimulatedSource::askedLine(const Line& line, double tempo) {
    if (student.queued().value > stillPlaying) return;
    student.rest(Seconds(1.5));
    student.play(line, tempo);
    student.rest(Seconds(2.5));
}

void SimulatedSource::askedString(int string) {
    if (string < 1 || student.queued().value > stillPlaying) return;
    student.playOpenString(string);
    student.rest(Seconds(0.3));
}

void SourceWish::fillIn(const Settings& settings) {
    const bool fromDevice = kind() == SourceKind::device;
    if (fromDevice && device.empty()) device = settings.deviceName;
    if (channel == 0) channel = fromDevice ? settings.channel : 1;
    if (frames == 0) frames = settings.frames;
    guitar = settings.guitar;
    output = settings.outputName;
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
        return std::unique_ptr<SoundSource>(
            new SimulatedSource({.sampleRate = rate, .seed = wish.seed, .guitar = wish.guitar, .skill = wish.skill},
                                wish.paced, wish.pace));
    }
    auto file = SoundFile::open(wish.input, wish.channel);
    if (!file) return file.error();
    return std::unique_ptr<SoundSource>(new FileSource(std::move(*file)));
}

}  // namespace landfall
