// Students for the review layer: tries with a known bias at each place, days that differ, a cold start, wild tries.
// Their faults are drawn otherwise than the map's model: bumps and single bad places. Seeded.
#pragma once

#include <algorithm>
#include <cmath>
#include <map>
#include <random>
#include <vector>

#include "src/review/reviewed_try.h"

namespace landfall {

class ReviewStudent {
public:
    explicit ReviewStudent(unsigned seed) : random(seed) {
        for (auto& bump : bumps) bump = {real(1.0, 6.0), real(1.0, 18.0), normal(9.0), real(1.0, 2.5), real(2.0, 6.0)};
        for (const MoveKind& kind : kinds)
            for (int string = 1; string <= 3; ++string)
                for (int fret : {3, 5, 7, 8, 10, 12, 15}) {
                    double bias = everywhere + kindBias[kind];
                    for (const auto& [s, f, height, ds, df] : bumps)
                        bias +=
                            height
                            * std::exp(
                                -0.5 * ((string - s) * (string - s) / (ds * ds) + (fret - f) * (fret - f) / (df * df)));
                    if (real(0.0, 1.0) < 0.1) bias += normal(12.0);  // a place of its own
                    places.push_back({kind, {string, fret}, bias});
                }
    }

    struct Place {
        MoveKind kind;
        NeckPlace at;
        double bias = 0.0;
    };
    std::vector<Place> places;

    // A day of practice: `count` tries, six at a place. `widen`: times the usual spread.
    void practise(std::vector<ReviewedTry>& tries, int day, int count, double widen = 1.0) {
        const double offset = normal(3.0);
        std::student_t_distribution<double> noise(4.0);
        const Place* place = nullptr;
        for (int i = 0; i < count; ++i) {
            if (i % 6 == 0)
                place = &places[static_cast<std::size_t>(real(0.0, static_cast<double>(places.size()) - 0.01))];
            ReviewedTry one;
            one.sitting = day + 1;
            one.number = i + 1;
            one.day = day;
            one.ofDay = i;
            one.at = CalendarTime(std::chrono::hours(24 * day));
            one.kind = place->kind;
            one.place = place->at;
            one.counted = true;
            const double cold = -8.0 * std::exp(-i / 5.0);
            one.error = widen * (place->bias + offset + cold + 10.0 * noise(random));
            one.inside = std::abs(*one.error) <= one.aim.value;
            tries.push_back(one);
        }
    }

private:
    double real(double from, double to) { return std::uniform_real_distribution(from, to)(random); }
    double normal(double sd) { return std::normal_distribution(0.0, sd)(random); }

    struct Bump {
        double string, fret, height, strings, frets;
    };
    std::mt19937 random;
    std::vector<MoveKind> kinds{{Gesture::bend, 2}, {Gesture::bend, 4}, {Gesture::release, 4}, {Gesture::preBend, 4}};
    double everywhere = normal(4.0);
    std::map<MoveKind, double> kindBias{
        {kinds[0], normal(4.0)}, {kinds[1], normal(4.0)}, {kinds[2], normal(4.0)}, {kinds[3], normal(4.0)}};
    Bump bumps[3];
};

}  // namespace landfall
