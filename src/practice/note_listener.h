// From pitch frames and strokes to notes, in both streams: where a note begins and ends, what is an echo, and a stroke
// that went unheard. Times count from the first sample heard. One thread, the analysis thread.
#pragma once

#include <algorithm>
#include <deque>
#include <optional>
#include <vector>

#include "dsp/pitch_frame.h"
#include "src/practice/note.h"

namespace landfall {

struct NoteListenerConfig {
    Hertz a4 = standardA4;
    GestureReaderConfig reader;
    // without a pitch for so long, and with the level down by `levelLost`, the note has ended
    double noteLost = 0.150;
    double levelLost = 10.0;      // dB under the last frame with a pitch: a damped string falls faster than any decay
    double pitchLost = 0.500;     // without a pitch for so long it has ended whatever sounds on: hum, other strings
    double noteAppears = 0.060;   // a pitch without a stroke for so long is a note too
    double attack = 0.150;        // a string is loudest within so much of its stroke
    double doubleStroke = 0.050;  // pick and fret noise of one stroke
    // A second stroke on a note that still sounds, where the tracker reports none: the level rises by so much within
    // `restruckWithin` and the frames between are unsure, five times as much as before and by a cent at least, and the
    // pitch is the same afterwards.
    double restruckRise = 1.0;
    double restruckWithin = 0.070;
    double restruckUnsure = 1.0;
    double restruckPitch = 15.0;
    double restruckBefore = 0.3;  // s of frames that are sure, in the middle: else nothing can be told
    double noteMost = 20.0;       // a note is not followed for longer
    // While the program itself sounds, and no string does, a stroke counts whose sound rises by so much as soon as it is
    // known (our tones: 16 dB at most, at the output's ceiling over the quietest floor), or does not grow by so much
    // afterwards: a string 2 dB, seldom 5, our tones 7 and more. The rise alone says little of a string: where it becomes
    // known may be the pick's own noise, or the first part of a millisecond.
    Decibels ownRise{18.0}, ownGrowth{5.0};
    double ringsWithin = 15.0;  // dB under its stroke: what has no pitch by then and is louder rings
};

// Who is told of the notes.
class NoteHearer {
public:
    virtual ~NoteHearer() = default;
    // at once; the note begins when the settled stream does
    virtual void strokeHeard(const Onset& stroke, int note) = 0;
    virtual void noteBegan() {}
    virtual void noteGrew() {}  // every fourth frame
    // `rings`: no pitch came, but it rings on as strings do; a muted one has died away, a voice grows
    virtual void noteEnded(Note over, bool rings) = 0;
    virtual void earlyGrew(const PitchFrame& /*frame*/) {}
    virtual bool hasLanded() const { return false; }  // the note that sounds
};

class NoteListener {
public:
    explicit NoteListener(const NoteListenerConfig& given) : config(given) {}

    void tell(NoteHearer& who) { hearer = &who; }  // before anything is heard
    void onset(const Onset& stroke);
    void grew(const Growth& sound);  // of the last stroke
    void settled(const PitchFrame& frame);
    void provisional(const PitchFrame& frame);
    void finish();
    // What the program itself plays, and an open microphone may hear: until then (s) a pitch that appears without a
    // stroke, or with one that grows, begins no note. Our tones and the vowels of speech grow, a string is struck.
    void ownSoundUntil(double time) { ownSound = std::max(ownSound, time); }

    const std::optional<Note>& note() const { return sounding; }
    // the same note in the provisional stream
    const std::optional<Note>& early() const { return soonest; }
    double now() const { return clock; }  // the settled stream has come so far

private:
    struct Stroke {
        int note = 0;
        double time = 0.0;
    };

    std::optional<double> restruck() const;
    void struck(const Onset& stroke);
    void strike(const Stroke& stroke);
    void grow(const PitchFrame& frame);
    void appear(const PitchFrame& frame);
    void begin(Note fresh);
    void end(bool rings = false);

    NoteListenerConfig config;
    NoteHearer* hearer = nullptr;
    int notes = 0;                  // so many have begun
    std::deque<Stroke> strokes;     // known, not yet reached by the settled stream
    std::optional<Onset> doubtful;  // may be our own sound
    std::optional<Note> sounding, soonest;
    std::vector<PitchPoint> unstruck;  // a pitch that appears without a stroke
    double struckLevel = -140.0;       // dBFS, its loudest in the attack
    double clock = 0.0, ownSound = -1.0;
    int sinceTold = 0;
};

}  // namespace landfall
