// effects [TRIES [EFFECT]] [--seed N] [--moves] [--told]: tries of the simulated student through everything that stands between
// a string and the computer (tests/support/effects.h), as Markdown. TRIES of each of ten moves (default 3); only the
// effects whose name contains EFFECT; N (default 1) draws hands and knobs; --moves adds a row for each move;
// --told says instead in how many of the ten the listener tells an effect, and after how many tries (median).
//
// Frames and landings are held against the string as it was played; only through the vibrato pedal frames are held
// against the pitch that it makes. Chorus, flanger and phaser may honestly move what is heard by some cents.
#include <algorithm>
#include <array>
#include <cstdlib>
#include <string>

#include <fmt/core.h>

#include "tests/support/effect_tries.h"

using namespace landfall;

namespace {

std::string quantile(std::vector<double> values, double share, int digits) {
    if (values.empty()) return "–";
    std::sort(values.begin(), values.end());
    return fmt::format(
        "{:.{}f}",
        values[std::min(values.size() - 1, static_cast<std::size_t>(share * static_cast<double>(values.size())))],
        digits);
}

std::string percent(int part, int whole) { return whole ? fmt::format("{:.1f}", 100.0 * part / whole) : "–"; }

void print(const std::string& name, const HeardThrough& heard) {
    fmt::print("| {} | {} | {} | {} | {} | {} | {} | {} | {} | {} | {} |\n", name, percent(heard.heard, heard.sounding),
               quantile(heard.frameErrors, 0.5, 2), quantile(heard.frameErrors, 0.95, 1), heard.tooSure,
               percent(heard.found, heard.tries), quantile(heard.errors, 0.5, 2), quantile(heard.errors, 0.95, 1),
               percent(heard.held, heard.found), heard.twoStrings, heard.extra);
    std::fflush(stdout);
}

// One take is one sitting.
void printTold(const Effect& effect, int tries, std::uint32_t seed) {
    constexpr std::array kinds{HeardEffect::ringing, HeardEffect::wavering};
    std::array<std::vector<double>, kinds.size()> after;
    const auto takes = effectTakes();
    for (std::uint32_t i = 0; i < takes.size(); ++i) {
        const PlayedTake played = playedTake(takes[i], tries, 100 * seed + i);
        for (const EffectHeard& told : effectsToldOf(through(effect, played.sound, 1000 * seed + i).samples))
            after[static_cast<std::size_t>(told.effect)].push_back(static_cast<double>(
                std::ranges::count_if(played.truths, [&](const MoveTruth& truth) { return truth.onset < told.at; })));
    }
    fmt::print("| {} |", effect.name);
    for (const HeardEffect kind : kinds) {
        const auto& tried = after[static_cast<std::size_t>(kind)];
        fmt::print(" {} of {} | {} |", tried.size(), takes.size(), quantile(tried, 0.5, 0));
    }
    fmt::print("\n");
    std::fflush(stdout);
}

}  // namespace

int main(int argc, char** argv) {
    std::vector<std::string> words(argv + 1, argv + argc);
    const bool moves = std::erase(words, "--moves") > 0;
    const bool told = std::erase(words, "--told") > 0;
    std::uint32_t seed = 1;
    if (const auto named = std::find(words.begin(), words.end(), "--seed");
        named != words.end() && named + 1 != words.end()) {
        seed = static_cast<std::uint32_t>(std::strtoul((named + 1)->c_str(), nullptr, 10));
        words.erase(named, named + 2);
    }
    const int tries = words.empty() ? 3 : std::max(1, std::atoi(words[0].c_str()));
    const std::string only = words.size() > 1 ? words[1] : "";
    if (told) {
        fmt::print("| through | rings on | after tries | wavers | after tries |\n|---|---|---|---|---|\n");
        for (const Effect& effect : effects())
            if (effect.name.find(only) != std::string::npos) printTold(effect, tries, seed);
        return 0;
    }
    fmt::print(
        "| through | frames heard % | error ¢ med | p95 | > 10 ¢ off, sd < 2 | landings found % | error ¢ med | p95 | "
        "in 90 % interval, % | two strings | marked without a try |\n"
        "|---|---|---|---|---|---|---|---|---|---|---|\n");
    for (const Effect& effect : effects()) {
        if (effect.name.find(only) == std::string::npos) continue;
        HeardThrough all;
        std::uint32_t drawn = 100 * seed;
        for (const EffectTake& take : effectTakes()) {
            const HeardThrough one = hearThrough(effect, take, tries, ++drawn);
            if (moves) print(fmt::format("{}: {}", effect.name, take.name), one);
            all.add(one);
        }
        print(effect.name, all);
    }
}
