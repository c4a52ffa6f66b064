// Where a sitting's sound comes from: a device, a file, or the simulated student. All feed the same Listener. One
// thread, the analysis thread.
#pragma once

#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "src/audio/audio_device.h"
#include "src/audio/simulated_player.h"
#include "src/audio/sound_clock.h"
#include "src/audio/sound_output.h"
#include "src/formats/settings_file.h"
#include "src/music/line.h"
#include "src/practice/drill_runner.h"
#include "src/system/result.h"

namespace landfall {

// Who plays what is asked without hearing it: the simulated student.
class AskedPlayer {
public:
    virtual ~AskedPlayer() = default;
    virtual void asked(const DrillState& state) = 0;
    virtual void askedLine(const Line&, double) {}  // a pass, at so many quarters a minute
    virtual void askedString(int string) = 0;       // the string check waits for this string, open
};

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
    virtual std::optional<DeviceReport> report() { return std::nullopt; }  // how the device fares, one a change
    virtual InputLevels levels() { return {}; }                            // of a device's channels
    virtual std::vector<std::string> remarks() const { return {}; }        // about a file, once it is read
    virtual SoundClock clock() const { return {}; }                        // of a device
    // where what is played goes, as long as there is an output
    virtual SoundOutput* output() { return nullptr; }
    virtual AskedPlayer* player() { return nullptr; }  // to be told what is asked
};

enum class SourceKind { device, simulated, file };

struct SourceWish {
    std::string input = "device";  // device, simulated, or a sound file
    std::string device{};
    std::string output{};  // device; empty: the input's own
    bool wantsOutput = true;
    int channel = 1;
    int rate = 0;
    int frames = 128;
    std::uint32_t seed = 1;
    Guitar guitar{};
    PlayerSkill skill = ines();
    bool paced = true;  // the simulated student plays in real time
    double pace = 1.0;  // so many times as fast as that

    SourceKind kind() const {
        return input == "device" ? SourceKind::device : input == "simulated" ? SourceKind::simulated : SourceKind::file;
    }
    // What is empty or 0 becomes as the settings say; guitar and output are always theirs.
    void fillIn(const Settings& settings);
};

// A device returns at once and tells by report() how it fares, hopeless where waiting would not help: there is none, or
// it refuses. A missing file is an error.
Result<std::unique_ptr<SoundSource>> openSource(const SourceWish& wish);

// The simulated student, for whom the truth is known.
class SimulatedSource : public SoundSource, public AskedPlayer {
public:
    SimulatedSource(const SimulatedPlayer::Config& config, bool paced, double pace = 1.0);
    double sampleRate() const override { return rate; }
    Heard read(std::span<float> block) override;
    void asked(const DrillState& state) override;
    void askedLine(const Line& line, double tempo) override;
    void askedString(int string) override;
    AskedPlayer* player() override { return this; }
    const std::vector<MoveTruth>& truths() const { return student.truths(); }

private:
    SimulatedPlayer student;
    double rate;
    bool paced;
    double pace;
    std::uint64_t given = 0;
    int played = 0;
    std::optional<Seconds> began;  // monotonic clock
};

}  // namespace landfall
