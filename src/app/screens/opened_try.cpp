#include "src/app/screens/opened_try.h"

#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include "gui/words.h"
#include "src/music/drill.h"
#include "src/practice/words.h"

namespace landfall {

namespace {

constexpr std::array months{"January", "February", "March",     "April",   "May",      "June",
                            "July",    "August",   "September", "October", "November", "December"};

std::string centsWords(Cents error) {
    const long cents = std::lround(std::abs(error.value));
    return cents == 0 ? "0 ¢" : fmt::format("{} ¢ {}", cents, error.value < 0.0 ? "under" : "over");
}

std::vector<Quantity> quantitiesOf(const LoggedTry& one) {
    const Landing& landing = one.landing;
    std::vector<Quantity> found;
    const auto add = [&](const char* name, std::string value) { found.push_back({name, std::move(value)}); };
    if (landing.firstStopError) add("first stop", centsWords(*landing.firstStopError));
    if (landing.landingError)
        add("landing",
            centsWords(*landing.landingError) + (landing.sd ? fmt::format(" ±{:.1f}", landing.sd->value) : ""));
    if (landing.correction) add("corrected by", fmt::format("{:.0f} ¢", std::abs(landing.correction->value)));
    if (landing.overshoot && landing.overshoot->value >= 0.5)
        add("overshoot", fmt::format("{:.0f} ¢", landing.overshoot->value));
    if (landing.landedFret) add("fret landed on", fmt::format("{}", *landing.landedFret));
    if (landing.startError) add("start note", centsWords(*landing.startError));
    if (landing.landingTime)
        add("arrival after", fmt::format("{:.2f} s", (*landing.landingTime - landing.onset).value));
    if (landing.riseTime) add("time on the way", fmt::format("{:.2f} s", landing.riseTime->value));
    if (landing.linger) add("on the first note", fmt::format("{:.2f} s", landing.linger->value));
    if (landing.holdLength) add("held for", fmt::format("{:.1f} s", landing.holdLength->value));
    if (landing.holdSpread) add("spread of the hold", fmt::format("{:.1f} ¢", landing.holdSpread->value));
    if (landing.sag && landing.sag->value >= 0.5) add("sank by", fmt::format("{:.0f} ¢", landing.sag->value));
    if (landing.levelKept) add("level kept", signedCents(Cents(landing.levelKept->value)) + " dB");
    if (one.level) add("level", signedCents(Cents(one.level->value)) + " dBFS");
    if (one.brightness) add("brightness", fmt::format("partial {:.1f}", *one.brightness));
    if (landing.vibrato) {
        add("vibrato",
            fmt::format("{:.1f} Hz, {:.0f} ¢ wide", landing.vibrato->rate.value, landing.vibrato->width.value));
        add("bottom and top",
            signedCents(landing.vibrato->bottom) + " and " + signedCents(landing.vibrato->top) + " ¢");
    }
    if (one.timing) {
        const long late = std::lround(1000.0 * one.timing->value);
        add("against the pulse",
            late == 0 ? "on it" : fmt::format("{} ms {}", std::abs(late), late > 0 ? "late" : "early"));
    }
    add("aim", fmt::format("±{:g} ¢", one.aim.value));
    if (one.guided) add("guided", "yes");
    return found;
}

}  // namespace

std::string dayWords(CalendarTime time) {
    const std::string text = localText(time), today = localText(calendarNow());  // "2027-03-01 18:05"
    const auto month = static_cast<std::size_t>(std::clamp(std::stoi(text.substr(5, 2)), 1, 12) - 1);
    const std::string year =
        text.substr(0, 4) == today.substr(0, 4) ? std::string() : fmt::format(" {}", text.substr(0, 4));
    return fmt::format("{} {}{}", std::stoi(text.substr(8, 2)), months[month], year);
}

std::string dateWords(CalendarTime time) { return fmt::format("{} {}", dayWords(time), localText(time).substr(11)); }

std::string resultWords(const std::vector<GestureTally>& gestures) {
    if (gestures.empty()) return "no tries";
    std::vector<std::string> words;
    for (const GestureTally& tally : gestures)
        words.push_back(fmt::format("{} {} of {}{}", kindOf(tally.gesture).plural, tally.inside, tally.counted,
                                    words.empty() ? " inside" : ""));
    return fmt::format("{}", fmt::join(words, ", "));
}

std::string moveWords(const Move& move) {
    return filledIn(kindOf(move.gesture).title, move.gesture, move.to.value - move.from.value);
}

bool onGuitar(const Move& move, const Guitar& guitar) { return move.place && hasPlace(guitar, *move.place); }

Trace traceOf(const LoggedTry& one, const TryCurve& curve) {
    Trace trace;
    for (const CurvePoint& point : curve) trace.points.push_back({point.sinceStroke, point.fromTarget});
    trace.marks = {markOf(one.landing, one.aim)};
    trace.marks.front().step = 0;  // the sweep shows this step alone
    return trace;
}

Practice sweepOf(std::vector<Trace> traces, const LoggedTry& like, bool before) {
    Practice sweep;
    sweep.moment = Moment::landed;
    sweep.feedback = Feedback::afterTry;
    sweep.before = before;
    sweep.aim = like.aim;
    const Move& move = like.landing.move;
    if (kindOf(move.gesture).course != Course::stands) sweep.steps.front().start = move.from - move.to;
    double longest = 0.0;
    for (const Trace& trace : traces)
        if (!trace.points.empty()) longest = std::max(longest, trace.points.back().sinceStroke.value);
    sweep.sweepLength = Seconds(std::clamp(std::ceil(longest), 3.0, 10.0));
    sweep.traces = std::move(traces);
    return sweep;
}

std::string TrySound::words() const {
    if (!none.empty()) return none;
    if (!heard) return "Reading its sound ...";
    if (playing) return "Playing. Enter stops it.";
    return noOutput ? "Its sound is kept, but there is no sound output to play it on." : "Enter plays it.";
}

TrySound TrySound::of(const LoggedTry& one) {
    TrySound sound;
    if (one.takeFile.empty())
        sound.none = "The sound of this try was not kept. Turn on \"sound of each try\" in the settings.";
    return sound;
}

OpenedTry openedTry(const LoggedTry& one, const Guitar& guitar, const TrySound& sound) {
    OpenedTry open;
    const Move& move = one.landing.move;
    const std::string place = onGuitar(move, guitar) ? fmt::format("{} · ", placeName(guitar, *move.place)) : "";
    open.title = fmt::format("{} · {}{}", one.drill, place, moveWords(move));
    open.sentence = one.landing.sentence + (one.struck ? " (dropped)" : "");
    open.quantities = quantitiesOf(one);
    open.canHear = sound.heard;
    open.sound = sound.words();
    return open;
}

}  // namespace landfall
