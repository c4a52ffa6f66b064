#include "src/practice/tally.h"

#include <cmath>
#include <string>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include "dsp/statistics.h"
#include "src/practice/one_sided.h"
#include "src/practice/verdict.h"

namespace landfall {

namespace {

constexpr int leastOthers = 3;
constexpr double eitherSide = 3.0;  // cents: a typical error so small has no side
constexpr Cents rightFret{50.0};    // where the fret landed on is not known, the asked one is nearest

bool otherNote(const Landing& landing) {
    return landing.verdict == Verdict::otherInterval || landing.verdict == Verdict::wrongFret;
}

std::string sideOf(const GestureTally& tally) {
    const double typical = tally.typicalError->value;
    const bool sided = std::abs(typical) >= eitherSide && isOneSided(typical, tally.typicalMiss->value);
    return !sided ? "sometimes high, sometimes low" : typical < 0.0 ? "mostly low" : "mostly high";
}

std::string shareOf(const GestureTally& tally, Cents aim) {
    const std::string where =
        kindOf(tally.gesture).overFrets ? "on the right fret" : fmt::format("within {:g} cents", aim.value);
    return fmt::format("{} of {} {}", tally.inside, tally.counted, where);
}

// Beside the share.
std::vector<std::string> remarksOn(const GestureTally& tally) {
    std::vector<std::string> remarks;
    if (tally.lost > 0) remarks.push_back(fmt::format("{} died", tally.lost));
    if (tally.notCounted > 0) remarks.push_back(fmt::format("{} not counted", tally.notCounted));
    const int withTrace = tally.counted - (tally.tries - tally.guided);
    if (withTrace > 0)
        remarks.push_back(fmt::format("{} guided", withTrace == tally.counted ? "all" : std::to_string(withTrace)));
    return remarks;
}

std::string sentenceOf(std::vector<std::string> parts, const std::vector<std::string>& more) {
    parts.insert(parts.end(), more.begin(), more.end());
    return parts.empty() ? "" : fmt::format("{}.", fmt::join(parts, "; "));
}

// Of a drill about the hold.
Words holdWords(const GestureTally& only, Cents aim) {
    if (only.counted == 0) return {"Nothing counted", sentenceOf({}, remarksOn(only))};
    std::vector<std::string> parts;
    if (only.sank > 0)
        parts.push_back(fmt::format("{} sank, usually by {:.0f} cents", only.sank, only.typicalSag->value));
    if (only.shortened > 0) parts.push_back(fmt::format("{} let go early", only.shortened));
    const int missed = only.counted - only.inside - only.sank - only.shortened - only.lost;
    if (missed > 0) parts.push_back(fmt::format("{} missed by more than {:g} cents", missed, aim.value));
    return {fmt::format("{} of {} stayed", only.inside, only.counted), capitalised(sentenceOf(parts, remarksOn(only)))};
}

// Of a drill about slowness.
Words slowWords(const GestureTally& only, Cents aim) {
    if (only.counted == 0) return {"Nothing counted", sentenceOf({}, remarksOn(only))};
    std::vector<std::string> parts;
    if (only.hurried > 0) parts.push_back(fmt::format("{} hurried", only.hurried));
    const int missed = only.counted - only.inside - only.hurried - only.lost;
    if (missed > 0) parts.push_back(fmt::format("{} missed by more than {:g} cents", missed, aim.value));
    const std::string usually = only.typicalWay ? fmt::format(", usually {:.1f} s", only.typicalWay->value) : "";
    return {fmt::format("{} of {} slow enough{}", only.inside, only.counted, usually),
            capitalised(sentenceOf(parts, remarksOn(only)))};
}

Words wordsOf(const GestureTally& only, Cents aim) {
    const std::string share = shareOf(only, aim);
    if (only.counted == 0) return {"Nothing counted", sentenceOf({}, remarksOn(only))};
    if (!only.typicalMiss) return {share, capitalised(sentenceOf({}, remarksOn(only)))};
    return {fmt::format("Usually {:.0f} cents off, {}", only.typicalMiss->value, sideOf(only)),
            sentenceOf({share}, remarksOn(only))};
}

}  // namespace

bool isCounted(const Landing& landing) {
    return landing.verdict != Verdict::twoStrings && landing.verdict != Verdict::notMeasurable;
}

bool isLost(const Landing& landing) { return !landing.landingError; }

bool isInside(const Landing& landing, Cents aim) {
    if (!isCounted(landing) || isLost(landing) || otherNote(landing)) return false;
    // Of several strings cents count over frets too: the worst one's.
    if (!kindOf(landing.move.gesture).overFrets || !landing.strings.empty())
        return landing.firstStopError && abs(*landing.firstStopError) <= aim;
    if (landing.landedFret && landing.move.targetFret) return *landing.landedFret == *landing.move.targetFret;
    return abs(*landing.landingError) <= rightFret;
}

bool isGood(const Landing& landing, Cents aim, Subject subject) {
    return isInside(landing, aim) && (subject != Subject::hold || heldOf(landing) == Held::stayed)
           && (subject != Subject::slow || !isHurried(landing));
}

void Tally::add(const Landing& landing, Cents aim, bool guided) {
    Played& of = played[landing.move.gesture];
    if (!isCounted(landing)) {
        ++of.notCounted;
        return;
    }
    Sums& sums = guided ? of.guided : of.others;
    ++sums.tries;
    sums.inside += isGood(landing, aim, subject) ? 1 : 0;
    if (subject == Subject::hold && isInside(landing, aim)) {
        const Held held = heldOf(landing);
        if (held == Held::sank) sums.sags.push_back(landing.sag->value);
        sums.shortened += held == Held::shortened ? 1 : 0;
    }
    if (subject == Subject::slow && landing.riseTime) {
        sums.ways.push_back(landing.riseTime->value);
        sums.hurried += isInside(landing, aim) && isHurried(landing) ? 1 : 0;
    }
    sums.lost += isLost(landing) ? 1 : 0;
    sums.otherNote += otherNote(landing) ? 1 : 0;
    const bool ownCents =
        !kindOf(landing.move.gesture).overFrets || !landing.strings.empty() || landing.target == Target::ownGuitar;
    if (landing.firstStopError && ownCents) sums.errors.push_back(landing.firstStopError->value);
    if (landing.linger) sums.lingers.push_back(landing.linger->value);
}

void Tally::Sums::add(const Sums& more) {
    tries += more.tries;
    inside += more.inside;
    lost += more.lost;
    otherNote += more.otherNote;
    shortened += more.shortened;
    hurried += more.hurried;
    ways.insert(ways.end(), more.ways.begin(), more.ways.end());
    sags.insert(sags.end(), more.sags.begin(), more.sags.end());
    errors.insert(errors.end(), more.errors.begin(), more.errors.end());
    lingers.insert(lingers.end(), more.lingers.begin(), more.lingers.end());
}

std::vector<GestureTally> Tally::gestures() const {
    std::vector<GestureTally> found;
    for (const auto& [gesture, of] : played) {
        Sums sums = of.others;
        if (of.others.tries < leastOthers) sums.add(of.guided);
        GestureTally& tally = found.emplace_back(GestureTally{gesture,
                                                              of.guided.tries + of.others.tries,
                                                              of.guided.tries,
                                                              of.notCounted,
                                                              sums.tries,
                                                              sums.inside,
                                                              sums.lost,
                                                              sums.otherNote,
                                                              {},
                                                              {},
                                                              {}});
        tally.sank = static_cast<int>(sums.sags.size());
        tally.shortened = sums.shortened;
        tally.hurried = sums.hurried;
        if (!sums.ways.empty()) tally.typicalWay = Seconds(median(sums.ways));
        if (!sums.sags.empty()) tally.typicalSag = Cents(median(sums.sags));
        if (!sums.lingers.empty()) tally.typicalLinger = Seconds(median(sums.lingers));
        if (sums.errors.empty()) continue;
        tally.typicalError = Cents(median(sums.errors));
        tally.typicalMiss = Cents(medianDeviation(sums.errors));
    }
    return found;
}

Words wordsOf(const std::vector<GestureTally>& several, Cents aim, Subject subject) {
    if (several.size() == 1 && subject == Subject::hold) return holdWords(several.front(), aim);
    if (several.size() == 1 && subject == Subject::slow) return slowWords(several.front(), aim);
    if (several.size() == 1) return wordsOf(several.front(), aim);
    std::vector<std::string> misses, shares, rest;
    for (const GestureTally& each : several) {
        const std::string_view name = kindOf(each.gesture).plural;
        if (each.typicalMiss) misses.push_back(fmt::format("{} {:.0f}", name, each.typicalMiss->value));
        shares.push_back(fmt::format("{} {} of {}", name, each.inside, each.counted));
        const std::string side = each.typicalMiss ? sideOf(each) + ", " : "";
        rest.push_back(
            capitalised(fmt::format("{}: {}", name, sentenceOf({side + shareOf(each, aim)}, remarksOn(each)))));
    }
    const std::string headline = misses.empty() ? capitalised(fmt::format("{}", fmt::join(shares, ", ")))
                                                : fmt::format("Usually off by: {} cents", fmt::join(misses, ", "));
    return {headline, fmt::format("{}", fmt::join(rest, " "))};
}

}  // namespace landfall
