// Where a sitting's sound comes from: a device, a file, or the simulated student. All feed the same Listener. One thread, the analysis thread.
#pragma once

#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "src/audio/audio_device.h"
#include "src/audio/simulated_player.h"
#include "src/formats/settings_file.h"
#include "src/practice/drill_runner.h"
#include "src/system/result.h"

namespace landfall {

class SoundSource {
public:
    struct Heard {
        std::size_t samples = 0;
        std::uint64_t missing = 0;  // samples lost before these
        bool ended = false;         // there will be no more
    };

    virtual ~SoundSource() = default;
    virtual double sampleRate() const = 0;  // Hz; 0 until a device has run
    virtual Heard read(std::span<float> block) = 0;
    virtual bool hopeless() const { return false; }                     // the last news will not pass by waiting: there is no device, or it refuses
    virtual std::optional<DeviceReport> report() { return std::nullopt; }  // how the device fares, one a change
    std::optional<std::string> news() {                                 // the same as a line for the player
        const auto next = report();
        return next ? std::optional(next->line) : std::nullopt;
    }
    virtual std::vector<std::string> remarks() const { return {}; }     // about a file, once it is read
    virtual InputLevels levels() { return {}; }                         // of a device's channels
    virtual void asked(const DrillState&) {}                            // what is asked now; the simulated student plays it
    virtual void askedString(int) {}                                    // the string check waits for this string, open
    virtual bool sound(Hertz, Seconds) { return false; }                // plays a tone, where there is an output
    virtual void play(std::shared_ptr<const std::vector<float>>, double) {}  // a recording made at this rate, instead of what was played before
    virtual void silence() {}                                           // ends that
    virtual bool playing() const { return false; }                      // a recording
    virtual void soundLevel(Decibels) {}                                // of the tones from now on
    virtual Seconds behind() const { return Seconds(0.0); }             // heard by the device, not yet read here
    virtual bool live() const { return false; }                         // waits for real time
};

enum class SourceKind { device, simulated, file };

struct SourceWish {
    std::string input = "device";  // device, simulated, or a sound file
    std::string device{};
    std::string output{};          // device; empty: the input's own
    bool wantsOutput = true;
    int channel = 1;
    int rate = 0;
    int frames = 128;
    Decibels soundLevel{-30.0};    // of the tones, dBFS peak
    std::uint32_t seed = 1;
    Guitar guitar{};
    PlayerSkill skill = ines();
    bool paced = true;             // the simulated student plays in real time
    double pace = 1.0;             // so many times as fast as that

    SourceKind kind() const { return input == "device" ? SourceKind::device : input == "simulated" ? SourceKind::simulated : SourceKind::file; }
    // What is empty or 0 becomes as the settings say; guitar, output and level are always theirs.
    void fillIn(const Settings& settings);
};

// A device returns at once and tells by report() how it fares; a missing file is an error.
Result<std::unique_ptr<SoundSource>> openSource(const SourceWish& wish);

// The simulated student, for whom the truth is known.
class SimulatedSource : public SoundSource {
public:
    SimulatedSource(const SimulatedPlayer::Config& config, bool paced, double pace = 1.0);
    double sampleRate() const override { return rate; }
    Heard read(std::span<float> block) override;
    void asked(const DrillState& state) override;
    void askedString(int string) override;
    bool live() const override { return paced; }
    const std::vector<MoveTruth>& truths() const { return player.truths(); }

private:
    SimulatedPlayer player;
    double rate;
    bool paced;
    double pace;
    std::uint64_t given = 0;
    int played = 0;
    std::optional<Seconds> began;  // monotonic clock
};

}  // namespace landfall
