#include "src/practice/ear_guess.h"

#include <array>
#include <cmath>

#include <fmt/core.h>

#include "src/practice/tally.h"
#include "src/practice/verdict.h"

namespace landfall {

std::optional<Guess> truthOf(const Landing& landing, Cents aim) {
    if (!isCounted(landing) || isLost(landing)) return {};
    if (isInside(landing, aim)) return Guess::on;
    return saidError(landing, aim).value < 0.0 ? Guess::under : Guess::over;
}

Words guessWords(Guess guess, const Landing& landing, Cents aim) {
    constexpr std::array names{"under", "on it", "over"};
    const double cents = saidError(landing, aim).value;
    const std::string was = std::abs(cents) < 0.5
                                ? "0 cents off"
                                : fmt::format("{:.0f} {}", std::abs(cents), cents < 0.0 ? "under" : "over");
    const auto truth = truthOf(landing, aim);
    if (truth == guess) return {"Right", fmt::format("Right: {}{}.", truth == Guess::on ? "on it, " : "", was)};
    return {fmt::format("No, that was {}", names[static_cast<std::size_t>(*truth)]),
            fmt::format("No, it was {}{}.", was, truth == Guess::on ? ", which is on it" : "")};
}

}  // namespace landfall
