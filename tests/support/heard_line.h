// A line as a tracker would hear it, written down by a test.
#pragma once

#include <cmath>
#include <optional>
#include <utility>
#include <vector>

#include "src/practice/line_follower.h"
#include "src/practice/line_marks.h"

namespace landfall {

// What a tracker would hear, written down: frames of 5 ms and the strokes among them.
class Heard {
public:
    Heard& rest(double seconds) {
        for (double end = now + seconds; now < end - 1e-9; now += 0.005) frame(std::nullopt);
        return *this;
    }
    Heard& stroke(double strength = 1.0) {
        strokes.push_back({Seconds(now), strength});
        return *this;
    }
    Heard& hold(double midi, double seconds) { return way(midi, midi, seconds); }
    // A raised cosine, as a hand moves.
    Heard& way(double from, double to, double seconds) {
        const double begin = now;
        for (double end = now + seconds; now < end - 1e-9; now += 0.005)
            frame(from + (to - from) * (0.5 - 0.5 * std::cos(3.14159265358979 * (now - begin) / seconds)));
        return *this;
    }
    Heard& note(double midi, double seconds = 0.4) { return stroke().hold(midi, seconds); }

    LineMarks marks(const Line& line) const {
        LineFollower follower(line, {});
        for (const Break& each : strokes) follower.hear(each);
        for (const PitchFrame& each : frames) follower.hear(each);
        follower.finish();
        return markLine(line, follower);
    }

    double now = 0.0;

private:
    void frame(std::optional<double> midi) {
        PitchFrame frame;
        frame.available = Seconds(now + 0.06);
        frame.centre = Seconds(now);
        frame.sd = Cents(0.3);
        frame.level = Decibels(midi ? -20.0 : -80.0);
        if (midi) frame.pitch = frequencyOf(MidiPitch(*midi));
        frames.push_back(frame);
    }

    std::vector<Break> strokes;
    std::vector<PitchFrame> frames;
};

inline LineMove move(Gesture gesture, double from, double to, double beat, bool picked = true) {
    LineMove made;
    made.move.gesture = gesture;
    made.move.from = MidiPitch(from);
    made.move.to = MidiPitch(to);
    made.beat = beat;
    made.picked = picked;
    made.anchor = gesture == Gesture::slide || gesture == Gesture::release ? Anchor::landing : Anchor::onset;
    return made;
}

inline Line lineOf(std::vector<LineMove> moves) {
    Line line;
    line.length = moves.back().beat + 1.0;
    for (double bar = 0.0; bar < line.length; bar += 4.0) line.barBegins.push_back(bar);
    line.moves = std::move(moves);
    return line;
}

}  // namespace landfall
