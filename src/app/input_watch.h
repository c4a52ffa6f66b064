// Watches the input and says what keeps a player from practising, or should be known: from events, lost samples and
// device reports to notices. Pure logic; its clock is the sound heard, ten levels a second. One thread, the analysis
// thread.
#pragma once

#include <deque>
#include <optional>
#include <string>
#include <vector>

#include "gui/snapshot.h"
#include "src/practice/listener_event.h"

namespace landfall {

struct InputWatchConfig {
    double cableAfter = 3.0;        // s of digital silence: shorter ones may be a player's hand on a volume knob
    double gatedCableAfter = 30.0;  // the same where a gate silences every pause
    // peak of a pick stroke; below it a hold nears a common interface's noise (from memory, as in gui/words)
    Decibels quietStroke{-42.0};
    int quietStrokes = 3;      // in a row
    double roomWindow = 8.0;   // s: even the quietest tenth of it ...
    double roomMargin = 12.0;  // dB ... is so near its loudest one,
    // and above this, while hardly anything of it had a pitch: no string rings on and on like that
    Decibels roomFloor{-55.0};
    double roomPitched = 0.3;  // share
    // peaks of neighbouring tenths: nothing that rings, and no hand, falls below a pickup's own noise
    Decibels gateFrom{-45.0}, gateTo{-95.0};
    int gateCuts = 3;                                           // within
    double gateWindow = 60.0;                                   // s
    double backFor = 5.0, droppedFor = 10.0, effectFor = 20.0;  // s that these stay on the screen
    // clipping stays until so many strokes in a row were clean: the player looks up after playing
    int cleanStrokes = 3;
};

class InputWatch {
public:
    explicit InputWatch(const InputWatchConfig& given = {}) : config(given) {}

    void hear(const ListenerEvent& event);
    // So much of the sound is missing before what is heard next: the computer was busy, or the device was away.
    void gap(Seconds missing);
    // The device. `line` is what to say of it.
    void gone(std::string line);    // it was there and is not
    void absent(std::string line);  // there has been none yet
    void running(bool again);
    void outputGone();  // until the device runs anew
    // Time goes on where no sound comes: any clock, `elapsed` since the last call.
    void wait(Seconds elapsed);

    // In the order of Trouble.
    std::vector<Notice> notices() const;
    // As said in the notices.
    bool clipping() const { return clipped; }
    // Nothing can be heard: the device is away, or its cable.
    bool away() const;

private:
    void level(const InputLevel& now);
    bool silent() const;

    InputWatchConfig config;
    double clock = 0.0;     // s
    double gapUntil = 0.0;  // until then silence is a gap's, and no gate's
    enum class Device { running, absent, gone } device = Device::running;
    std::string deviceLine;
    bool noOutput = false;
    std::optional<double> silentSince, backAt, droppedAt;
    struct Tenth {
        double at, peak, rms;
    };
    std::deque<Tenth> tenths;
    std::deque<std::pair<double, bool>> pitched;  // time, whether the frame had a pitch
    std::optional<double> strokeAt, strokePeak;   // the stroke whose peak is being looked for
    int quietRun = 0, cleanRun = 0;
    bool clipped = false, strokeClipped = false;
    std::deque<double> cuts;
    bool roomLoud = false;
    std::vector<HeardEffect> effects;  // in the order recognised
    std::optional<double> effectAt;    // the last of them
};

}  // namespace landfall
