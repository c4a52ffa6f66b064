// What sounds from one pick stroke to the next, or until the pitch is lost, as it grows. Pitches in cents on the MIDI
// scale, times in seconds of the input. One thread.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "src/practice/gesture_reader.h"

namespace landfall {

constexpr std::size_t toldLeast = 20;  // points of a note that a word is said of

class Note {
public:
    Note(int count, double begin, bool withStroke, const GestureReaderConfig& reader = {})
        : number(count), onset(begin), struck(withStroke), config(reader) {}

    int number = 0;  // within the Listener
    double onset = 0.0;
    bool struck = true;         // false: the pitch appeared without a stroke
    std::optional<double> end;  // empty: still sounding
    bool cutByStroke = false;   // how it ended: another stroke, else the pitch was lost
    double heardUntil = 0.0;    // the settled stream has come so far

    void add(const PitchPoint& point);
    // Takes away what is at `time` and later, for the note that began there.
    std::vector<PitchPoint> cutAt(double time);
    // the same note, nothing heard of it yet
    Note unheard() const;

    const std::vector<PitchPoint>& points() const { return heard; }
    double loudest() const { return most; }  // dBFS
    std::span<const Stretch> stretches() const;
    // The pitch with which it begins: a steady stretch that begins with it, else the median of what follows the attack,
    // else a steady stretch soon after. Empty: too early to say.
    std::optional<double> start() const;

private:
    GestureReaderConfig config;
    std::vector<PitchPoint> heard;
    double most = -140.0;
    // kept between two questions; of so many points and this end
    mutable GestureReader reading;
    mutable std::vector<Stretch> read;
    mutable std::size_t readPoints = 0;
    mutable std::optional<double> readEnd;
};

}  // namespace landfall
