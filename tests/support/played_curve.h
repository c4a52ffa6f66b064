// Pitch frames and pick strokes of a curve that a test writes down, with a little seeded noise: what the tracker would
// say of perfect sound.
#pragma once

#include <cmath>
#include <numbers>
#include <random>
#include <vector>

#include "src/practice/move_follower.h"

namespace landfall {

class PlayedCurve {
public:
    explicit PlayedCurve(unsigned seed = 1, double noiseCents = 0.3) : random(seed), noise(0.0, noiseCents) {}

    double now() const { return static_cast<double>(count) * hop; }

    PlayedCurve& rest(double seconds) {
        for (double t = 0.0; t < seconds; t += hop) add(std::nullopt, -90.0);
        return *this;
    }
    // A pick stroke on a MIDI pitch; what follows moves from there.
    PlayedCurve& stroke(double midi) {
        onsets.push_back({Seconds(now() + 0.01), Seconds(now()), Decibels(20.0)});
        pitch = 100.0 * midi;
        loudness = -20.0;
        return *this;
    }
    PlayedCurve& hold(double seconds, double driftCents = 0.0) {
        return run(seconds, [start = pitch, driftCents](double share) { return start + driftCents * share; });
    }
    // A smooth rise or fall (raised cosine).
    PlayedCurve& glide(double cents, double seconds) {
        return run(seconds, [start = pitch, cents](double share) {
            return start + cents * 0.5 * (1.0 - std::cos(std::numbers::pi * share));
        });
    }
    // Frets passed one after another, each for the same time.
    PlayedCurve& frets(int number, double secondsEach) {
        for (int i = 0; i < std::abs(number); ++i) {
            pitch += number > 0 ? 100.0 : -100.0;
            hold(secondsEach);
        }
        return *this;
    }
    // Between the present pitch and `width` cents above (below if negative).
    PlayedCurve& vibrato(double width, double rate, double seconds) {
        const double start = pitch;
        run(seconds, [=](double share) {
            return start + width * 0.5 * (1.0 - std::cos(2.0 * std::numbers::pi * rate * share * seconds));
        });
        return *this;
    }
    PlayedCurve& quieter(double decibels) {
        loudness -= decibels;
        return *this;
    }

    std::vector<ListenerEvent> heardBy(const std::vector<Move>& moves, MoveOrder order,
                                       FollowerConfig config = {}) const {
        std::vector<ListenerEvent> events;
        MoveFollower follower(config, events);
        follower.setMoves(moves, order);
        feed(follower);
        follower.finish();
        return events;
    }
    void feed(MoveFollower& follower) const {
        std::size_t stroke = 0;
        for (const PitchFrame& frame : frames) {
            while (stroke < onsets.size() && onsets[stroke].available <= frame.centre) follower.onset(onsets[stroke++]);
            follower.provisional(frame);
            PitchFrame late = frame;
            late.available = frame.centre + Seconds(0.06);
            follower.settled(late);
        }
    }

    std::vector<PitchFrame> frames;
    std::vector<Onset> onsets;

private:
    static constexpr double hop = 256.0 / 48000.0;

    template <typename Curve>
    PlayedCurve& run(double seconds, Curve curve) {
        const double begin = now();
        while (now() - begin < seconds - 1e-9) add(curve((now() - begin) / seconds), loudness);
        pitch = curve(1.0);
        return *this;
    }
    void add(std::optional<double> cents, double level) {
        PitchFrame frame;
        frame.centre = frame.available = Seconds(now());
        if (cents) frame.pitch = frequencyOf(MidiPitch((*cents + noise(random)) / 100.0));
        frame.sd = Cents(0.3);
        frame.level = Decibels(level);
        frames.push_back(frame);
        ++count;
    }

    std::mt19937 random;
    std::normal_distribution<double> noise;
    std::size_t count = 0;
    double pitch = 6000.0, loudness = -20.0;
};

template <typename Event>
std::vector<Event> eventsOf(std::span<const ListenerEvent> events) {
    std::vector<Event> found;
    for (const ListenerEvent& event : events)
        if (const auto* one = std::get_if<Event>(&event)) found.push_back(*one);
    return found;
}

inline Move moveOf(Gesture gesture, double from, double to) {
    return {gesture, MidiPitch(from), MidiPitch(to), std::nullopt, std::nullopt};
}

}  // namespace landfall
