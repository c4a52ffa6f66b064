// Two muted strokes shortly after one another, by which a player with both hands on the guitar says "go on". One alone is
// none: a hand laid on the strings sounds the same. The clock is the sound heard. One thread, the analysis thread.
#pragma once

#include <optional>

#include "src/practice/listener_event.h"

namespace landfall {

struct MutedStrokesConfig {
    // s after a stroke in which a fretted or open string has a pitch (36 ms, 95th percentile) and a damped one has not
    double from = 0.05, to = 0.16;
    double mostPitched = 0.25;  // share of the frames there: a damped string may sing for a moment
    double within = 1.2;        // s from one to the other
    Decibels quietest{-42.0};   // peak; the quietest pick stroke (InputWatchConfig)
};

class MutedStrokes {
public:
    explicit MutedStrokes(const MutedStrokesConfig& given = {}) : config(given) {}

    void hear(const ListenerEvent& event);
    // How often there were two.
    unsigned pairs() const { return counted; }

private:
    void judge(Seconds now);

    MutedStrokesConfig config;
    struct Stroke {
        Seconds at;
        int frames = 0, pitched = 0;
    };
    std::optional<Stroke> judged;  // what it was is not known yet
    std::optional<Seconds> muted;  // the last one, if it may still be the first of two
    Decibels peak{-140.0};         // of the last tenths
    unsigned counted = 0;
};

}  // namespace landfall
