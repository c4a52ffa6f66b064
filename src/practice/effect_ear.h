// Knows an echo or reverberation, and an effect that makes the pitch waver, by what a string and a hand cannot do: from
// strokes and settled frames, one each 5 ms. Says only what is sure. One thread, the analysis thread.
#pragma once

#include <cstddef>
#include <deque>
#include <optional>
#include <string_view>
#include <vector>

#include "src/practice/listener_event.h"

namespace landfall {

// Which it is, what it does to the marks and the remedy.
std::string_view effectSentence(HeardEffect effect);

// Chosen on the battery's clips and the simulated student's tries, dry and through effects, one seed of each;
// doc/measured.md has what is told of others.
struct EffectEarConfig {
    // It rings on: a note is cut off, and its pitch goes on, quieter, and falls.
    Decibels cut{5.0};        // that a hand takes from a string in 60 ms, at the least
    Decibels cutMost{18.0};   // below that it is what a hand leaves, or another string that answers
    double pitched = 0.8;     // share of the half second after it that has the note's pitch,
    Cents near{40.0};         // so near: an echo sounds what was played in the last 0.7 s
    Decibels fallLeast{8.0};  // in the last 0.4 s of it; another string that answers falls less
    Decibels fallMost{30.0};  // a reverberation time of 0.8 s: a room to live in has half of it, and its marks are good
    Decibels rise{4.0};       // what comes back is a tremolo
    int ringing = 4;  // of the last eight cuts. Of 408 dry ones none is such a one; where open strings answer, 2 of 129

    // It wavers: the partials' levels go ways of their own (PitchFrame::wander). So does most of a note for .89
    // of notes through a chorus, .80 a phaser, .70 a wah, .13 heavy gain, .01 in a room, none of 426 dry.
    Cents wander{1.5};
    int wavering = 5;  // of the last eight notes
    // In connected playing notes are short: what several sound one after another counts as one.
    bool connected = false;

    // Or the whole pitch swings at one rate, and in one phase through several held notes, however they were struck: one
    // sinusoid explains so much of the variance, but less where time counts from each note's beginning, as a hand does.
    // Of ten notes that swing with phases of chance it explains .8 once in seventy times.
    double share = 0.8, shareAnew = 0.5;
    std::size_t heldNotes = 10;  // within a minute
    Cents swing{2.0};            // root mean square of half of them
};

class EffectEar {
public:
    explicit EffectEar(const EffectEarConfig& given = {}) : config(given) {}

    void stroke(Seconds time);  // before the settled frame of that moment
    // What is recognised with this frame; each once.
    std::optional<HeardEffect> settled(const PitchFrame& frame);

private:
    struct Moment {
        double level = 0.0;           // dB
        std::optional<double> cents;  // from the reference A
    };
    struct Held {
        std::vector<double> at, cents;  // every 25 ms
    };

    bool ringsOn(const Moment& moment);
    std::optional<bool> cutRings() const;
    bool noteWavered();
    bool hold(std::optional<double> cents);
    bool heldNoteEnds();
    bool pitchSwings() const;

    EffectEarConfig config;
    double now = 0.0, strokeAt = -1.0;  // s
    std::deque<double> strokes;         // whose frames are still to come
    bool toldRinging = false, toldWavering = false;

    std::deque<Moment> moments;  // as far back as a cut is judged by
    int sinceCut = 0;            // frames
    std::deque<bool> cuts;       // the last ones, whether they rang on

    int pitched = 0, wandering = 0;  // frames of the note that sounds
    std::deque<bool> wavered;        // the last notes

    Held current;
    double sum = 0.0;  // cents, of the 25 ms being heard
    int summed = 0;
    std::deque<Held> held;
    double heldStroke = -2.0;  // of the last one
};

}  // namespace landfall
