// Live sound in and out through a process of its own that holds the audio library; survives a device or sound server
// that goes away. One thread: whoever calls read().
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "dsp/units.h"
#include "src/audio/sample_ring.h"
#include "src/audio/sound_clock.h"
#include "src/system/result.h"

namespace landfall {

struct DeviceInfo {
    std::string api;  // "ALSA", "JACK", ...
    std::string name;
    int inputs = 0;
    int outputs = 0;
    double defaultRate = 0.0;             // Hz
    std::optional<Seconds> inputLatency;  // as the device claims; empty where it claims nonsense
    std::optional<Seconds> outputLatency;
    bool defaultInput = false;
    bool defaultOutput = false;
    // another device of the list with its sound converted, as ALSA puts several over each card: nothing to choose from
    bool converted = false;

    std::string label() const { return api + ": " + name; }
};

// Looks in a child process, since a host may hang; waits for it, `patience` at most. An empty list is not an error.
// `program` as in AudioDevice::Config.
Result<std::vector<DeviceInfo>> listDevices(Seconds patience = Seconds(10.0),
                                            const std::filesystem::path& program = {});

// How many of a device's channels are opened beside the chosen one, so that the player sees which one moves: eight at
// most; of a made-up device, which has dozens, two.
int meteredChannels(int there);

struct InputLevels {
    std::string device;  // DeviceInfo::label; empty: nothing is heard
    // dBFS, the loudest sample of each channel since the last call, the first channel first; silence is -140
    std::vector<Decibels> peaks;
};

// How loud every input is, all at once, for the moment when one is chosen. In a process of its own; inputs come one
// after another as they open, and one that another program holds never does. What is open here cannot be opened by
// others where the device serves one program only: end it before AudioDevice::open. One thread.
class InputMeter {
public:
    // Returns at once. `program` as in AudioDevice::Config.
    static Result<std::unique_ptr<InputMeter>> start(const std::filesystem::path& program = {});
    ~InputMeter();  // as AudioDevice's
    // Of those heard now. Never waits.
    std::vector<InputLevels> take();

private:
    struct State;
    explicit InputMeter(std::unique_ptr<State> made);
    std::unique_ptr<State> state;
};

struct DeviceReport {
    // noOutput: the input goes on, but the output that was to be used ended or cannot be opened. It is looked for again
    // with the next opening.
    enum class Kind { starting, running, lost, backAgain, noSuchDevice, refusedRate, failed, noOutput };
    Kind kind = Kind::starting;
    std::string line;       // for a person: names the device, says what happened and what to do
    bool hopeless = false;  // whoever opened the device may say: it will not pass by waiting
};

struct DeviceCounters {
    std::uint64_t callbacks = 0;
    std::uint64_t frames = 0;   // samples the device delivered, dropped ones included
    std::uint64_t dropped = 0;  // samples that found the ring full: read() was not called in time
    // times the device said that it lost input; JACK says so at every late wake-up, whether or not it did
    std::uint64_t inputBreaks = 0;
    std::uint64_t outputBreaks = 0;  // times the device got output too late
    Seconds worstCallback;
    std::uint64_t starts = 0;  // audio processes started so far
};

// How to use it, on the analysis thread:
//   auto device = AudioDevice::open({.input = "JACK: system"});   // returns at once; an error is wrong usage
//   loop:
//     while (auto report = (*device)->nextReport()) print report->line; at the first `running`, make the Listener for (*device)->sampleRate();
//     Chunk chunk = (*device)->read(block);                 // never waits; also watches, kills and restarts the process
//     if (chunk.missing > 0) tell the Listener that so many samples are missing before these
//     if (chunk.samples > 0) listener.process(block.first(chunk.samples)); else sleep 2 ms
//     tone.render(out.first(min(out.size(), (*device)->outputRoom()))); (*device)->write(...)
// Call read() at least every 50 ms. After `noSuchDevice`, `refusedRate` or `failed` it keeps trying quietly; a caller
// who would rather stop prints the line and ends. The rate never changes once it ran, and a device that comes back is
// the same one by name: samples go on in order, with the pause as `missing`.
class AudioDevice {
public:
    struct Config {
        // a label as in DeviceInfo, a name, or a part of it that fits one device; empty: the default
        std::string input{};
        int channel = 1;                  // from 1
        int rate = 0;                     // Hz; 0: the device's own
        int frames = 128;                 // samples a block, 64 to 512
        bool wantsOutput = true;          // without a usable output the input works alone
        std::string output{};             // empty: the input device if it can, else its interface's default
        std::filesystem::path program{};  // one that understands `audio-process`; empty: this program
    };

    static Result<std::unique_ptr<AudioDevice>> open(Config config);
    // Gives the sound server 300 ms for an orderly goodbye.
    ~AudioDevice();

    // The next samples of the channel in order, up to the block's size or the next gap. `missing` is exact where the
    // ring was full, an estimate from the clock where the device broke off or was away.
    Chunk read(std::span<float> block);
    // The next change that was not yet told; one for each change, none for each attempt.
    std::optional<DeviceReport> nextReport();

    bool running() const;
    // Hz; 0 before it ran for the first time.
    double sampleRate() const;
    bool hasOutput() const;
    InputLevels takeLevels();
    // Its label as in DeviceInfo; empty while there is none.
    std::string outputName() const;

    // How many samples would keep the output 30 ms ahead; 0 while there is none.
    std::size_t outputRoom() const;
    // Through the output guard: faded in after every start, limited. More than outputRoom() adds delay; what does not
    // fit is left out.
    void write(std::span<const float> samples);

    // Over all processes so far.
    DeviceCounters counters() const;
    // The same in time; samples missing while the device was away stand in what was captured and read.
    SoundClock clock() const;
    // The audio process, for tests; -1 while there is none.
    long processId() const;

private:
    struct State;
    explicit AudioDevice(std::unique_ptr<State> made);
    std::unique_ptr<State> state;
};

}  // namespace landfall
