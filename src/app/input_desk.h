// The window's input: opened, read, watched, changed for another, metered beside all others while one is chosen; and
// what is to be said of it. No thread of its own: the trainer's.
#pragma once

#include <chrono>
#include <deque>
#include <functional>
#include <memory>
#include <span>
#include <string>
#include <vector>

#include "gui/snapshot.h"
#include "src/app/input_watch.h"
#include "src/app/screens/settings_screen.h"
#include "src/app/sound_source.h"
#include "src/practice/listener.h"
#include "src/practice/muted_strokes.h"

namespace landfall {

using SourceOpener = std::function<Result<std::unique_ptr<SoundSource>>(const SourceWish&)>;
using DeviceFinder = std::function<Result<std::vector<SoundDevice>>()>;

// The loudest of the last moments, told ten times a second; dBFS, in steps that keep the screen calm.
class HeldLevels {
public:
    explicit HeldLevels(double seconds) : tenths(static_cast<std::size_t>(10.0 * seconds)) {}
    void add(std::vector<InputLevels> now);
    std::vector<InputLevels> loudest() const;  // of what is heard now
    void clear() { held.clear(); }

private:
    std::size_t tenths;
    std::deque<std::vector<InputLevels>> held;
};

class InputDesk {
public:
    // `asked` is the command line's: what it leaves open is as `settings` say, which must live longer.
    InputDesk(const Settings& settings, SourceWish asked, SourceOpener opener);
    // Before the first open(): which input that is. Without any device the simulated student plays, and notices() says
    // why. What the command line asked for goes into `inUse`, since it is in use whatever the screens change beside it.
    static std::string settle(SourceWish& asked, Settings& inUse, const DeviceFinder& findDevices);
    void fellBack(std::string why) { fallback = std::move(why); }

    Result<void> open();
    // The input that the settings name, in place of the command line's. False: it cannot be opened; notices() says why.
    bool change();

    SourceKind kind() const { return wish.kind(); }
    const SourceWish& inUse() const { return wish; }
    SoundSource& source() { return *sound; }
    double sampleRate() const { return sound->sampleRate(); }

    // Takes in what the device reports. True: there is something new to say.
    bool hearReports();
    // What comes next; waits a moment where there is nothing.
    SoundSource::Heard read(std::span<float> block);
    // The same sound where no drill hears it; quantised in place.
    void listen(std::span<float> samples);
    // What a listener made of it.
    void hear(const ListenerEvent& event);
    // Nothing can be heard of the player: the device is away, or its cable.
    bool away() const { return kind() == SourceKind::device && watch.away(); }
    // Pairs of muted strokes heard so far.
    unsigned mutedPairs() const { return muted.pairs(); }
    // A file has come to its end.
    bool over() const { return ended; }

    // A tone or a recording, as loud as the settings say. False: there is no output.
    bool play(Hertz frequency, Seconds length);
    bool play(std::shared_ptr<const std::vector<float>> samples, double rate);
    void endRecording();
    // True once, at its end.
    bool recordingOver();

    // To be called ten times a second: time goes on where no sound comes.
    void wait();
    // And this: how loud all inputs are while one is chosen, anew with every other number; 0: none is to be chosen.
    std::vector<InputLevels> meter(unsigned long wanted);
    Input shown() const;
    std::vector<Notice> notices() const;

private:
    const Settings& settings;
    SourceWish wish;
    SourceOpener opener;
    std::string fallback;  // why the simulated student plays although nobody asked for it
    std::unique_ptr<SoundSource> sound;
    std::unique_ptr<Listener> listener;  // hears where no drill does ...
    Hertz listenerA4{440.0};             // ... by this reference
    InputWatch watch;
    MutedStrokes muted;
    HeldLevels level;  // of the input in use
    bool ended = false, recording = false;
    std::chrono::steady_clock::time_point lastSound;

    std::unique_ptr<InputMeter> inputMeter;  // while an input is chosen
    unsigned long metered = 0;               // as wanted last
    HeldLevels levels;                       // of all
};

}  // namespace landfall
