// How loud and how bright a try's hold sounded, from what was heard where the judge measures it. One thread.
#pragma once

#include <vector>

#include "src/store/logged_try.h"

namespace landfall {

class HoldSound {
public:
    explicit HoldSound(const LoggedTry& row) : arrival(row.landing.landingTime) {}

    // Whether a moment lies in the hold: 60 to 310 ms after the arrival.
    bool holds(Seconds at) const;
    // A settled frame with a pitch; one outside the hold is nothing to it.
    void add(Seconds at, Decibels level, double brightness);
    void keepIn(LoggedTry& row);  // medians; nothing where nothing was heard

private:
    std::optional<Seconds> arrival;
    std::vector<double> levels, brightnesses;
};

}  // namespace landfall
