#include "src/app/screens/history_screen.h"

#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include "gui/words.h"
#include "src/music/drill.h"
#include "src/practice/verdict.h"
#include "src/store/totals.h"

namespace landfall {

namespace {

using Kind = Intent::Kind;

constexpr std::array months{"January", "February", "March",     "April",   "May",      "June",
                            "July",    "August",   "September", "October", "November", "December"};

// "24 November 19:10"; of another year than this one "24 November 2026 19:10".
std::string dateWords(CalendarTime time) {
    const std::string text = localText(time), today = localText(calendarNow());  // "2027-03-01 18:05"
    const auto month = static_cast<std::size_t>(std::clamp(std::stoi(text.substr(5, 2)), 1, 12) - 1);
    const std::string year = text.substr(0, 4) == today.substr(0, 4) ? "" : text.substr(0, 4) + " ";
    return fmt::format("{} {} {}{}", std::stoi(text.substr(8, 2)), months[month], year, text.substr(11));
}

// "3 tries, 2 inside"; of several gestures "bends 2 of 3 inside, slides 1 of 1".
std::string resultWords(const std::vector<GestureTally>& gestures) {
    if (gestures.empty()) return "no tries";
    std::vector<std::string> words;
    for (const GestureTally& tally : gestures)
        words.push_back(fmt::format("{} {} of {}{}", kindOf(tally.gesture).plural, tally.inside, tally.counted,
                                    words.empty() ? " inside" : ""));
    return fmt::format("{}", fmt::join(words, ", "));
}

// "full step", "release a full step", "slide an octave".
std::string moveWords(const Move& move) {
    return filledIn(kindOf(move.gesture).title, move.gesture, move.to.value - move.from.value);
}

bool onGuitar(const Move& move, const Guitar& guitar) { return move.place && hasPlace(guitar, *move.place); }

// "full step, G 7"
std::string rowWords(const Move& move, const Guitar& guitar) {
    if (!onGuitar(move, guitar)) return moveWords(move);
    return fmt::format("{}, {} {}", moveWords(move), stringNames(guitar, move.place->string).brief, move.place->fret);
}

std::string centsWords(Cents error) {
    const long cents = std::lround(std::abs(error.value));
    return cents == 0 ? "0 ¢" : fmt::format("{} ¢ {}", cents, error.value < 0.0 ? "under" : "over");
}

// With a minus sign, not a hyphen.
std::string signedWords(double value) {
    const long whole = std::lround(value);
    return whole < 0 ? fmt::format("−{}", -whole) : whole > 0 ? fmt::format("+{}", whole) : "0";
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
    if (landing.levelKept) add("level kept", signedWords(landing.levelKept->value) + " dB");
    if (landing.vibrato) {
        add("vibrato",
            fmt::format("{:.1f} Hz, {:.0f} ¢ wide", landing.vibrato->rate.value, landing.vibrato->width.value));
        add("bottom and top",
            signedWords(landing.vibrato->bottom.value) + " and " + signedWords(landing.vibrato->top.value) + " ¢");
    }
    add("aim", fmt::format("±{:g} ¢", one.aim.value));
    if (one.guided) add("guided", "yes");
    return found;
}

}  // namespace

void HistoryScreen::reading() {
    isReading = true;
    refresh();
}

void HistoryScreen::setLog(std::vector<ReadSitting> read) {
    // Both count from 1; 0 is none.
    const std::int64_t id = sitting() ? sitting()->summary.id : 0;
    const int number = chosenTry() ? chosenTry()->number : 0;
    isReading = false;
    sittings = std::move(read);
    std::reverse(sittings.begin(), sittings.end());
    std::erase_if(sittings, [](const ReadSitting& one) { return one.tries.empty(); });
    chosen = 0;
    tryChosen.reset();
    for (std::size_t i = 0; i < sittings.size(); ++i)
        if (id == sittings[i].summary.id) chosen = static_cast<int>(i);
    for (std::size_t i = 0; sitting() && i < sitting()->tries.size(); ++i)
        if (number > 0 && sitting()->summary.id == id && sitting()->tries[i].number == number)
            tryChosen = static_cast<int>(i);
    if (!tryChosen) opened = false;
    refreshTotals();
    refresh();
}

void HistoryScreen::say(std::string words) {
    isReading = false;
    message = std::move(words);
    refresh();
}

const ReadSitting* HistoryScreen::sitting() const {
    return chosen < static_cast<int>(sittings.size()) ? &sittings[static_cast<std::size_t>(chosen)] : nullptr;
}

LoggedTry* HistoryScreen::chosenTry() {
    if (!sitting() || !tryChosen) return nullptr;
    return &sittings[static_cast<std::size_t>(chosen)].tries[static_cast<std::size_t>(*tryChosen)];
}

std::optional<TryChosen> HistoryScreen::wanted(TryChosen::Kind kind) {
    const LoggedTry* one = chosenTry();
    if (!one) return std::nullopt;
    const SittingSummary& of = sitting()->summary;
    return TryChosen{kind, of.id, of.sitting.token, of.sitting.guitar, *one};
}

std::optional<TryChosen> HistoryScreen::openTry() {
    const LoggedTry* one = chosenTry();
    if (!one) return std::nullopt;
    opened = true;
    playing = false;
    trace.reset();
    noTrace =
        one->takeFile.empty()
            ? "The sound of this try was not kept, so there is no trace. Turn on \"sound of each try\" in the settings."
            : "";
    return one->takeFile.empty() ? std::nullopt : wanted(TryChosen::Kind::read);
}

std::optional<TryChosen> HistoryScreen::strike() {
    LoggedTry* one = chosenTry();
    if (!one) return std::nullopt;
    one->struck = !one->struck;
    refreshTotals();
    return wanted(one->struck ? TryChosen::Kind::strike : TryChosen::Kind::restore);
}

void HistoryScreen::moveTry(int by) {
    tryChosen = std::clamp(*tryChosen + by, 0, static_cast<int>(sitting()->tries.size()) - 1);
}

void HistoryScreen::setTake(std::int64_t sittingId, int number, const Result<ReadTake>& take) {
    const LoggedTry* one = chosenTry();
    if (!opened || !one || one->number != number || sitting()->summary.id != sittingId) return;
    if (take) trace = take->trace;
    else noTrace = take.error().message;
    refresh();
}

void HistoryScreen::played() {
    playing = false;
    refresh();
}

void HistoryScreen::cannotPlay() {
    playing = false;
    noOutput = true;
    refresh();
}

Wish HistoryScreen::act(const Intent& intent) {
    message.clear();
    Wish wish{.oneTry = opened ? actOpened(intent) : actList(intent)};
    refresh();
    return wish;
}

std::optional<TryChosen> HistoryScreen::actList(const Intent& intent) {
    const int last = static_cast<int>(sittings.size()) - 1;
    switch (intent.kind) {
        case Kind::previous:
            if (tryChosen) moveTry(-1);
            else chosen = std::max(0, chosen - 1);
            break;
        case Kind::following:
            if (tryChosen) moveTry(+1);
            else chosen = std::clamp(chosen + 1, 0, std::max(0, last));
            break;
        case Kind::less: tryChosen.reset(); break;
        case Kind::more:
            if (sitting() && !tryChosen) tryChosen = 0;
            break;
        case Kind::choose:
            if (tryChosen) return openTry();
            if (sitting()) tryChosen = 0;
            break;
        case Kind::decline: return strike();
        case Kind::pick:
            if (intent.value >= 0) {
                chosen = std::clamp(intent.value, 0, std::max(0, last));
                tryChosen.reset();
            } else if (sitting()) {
                const int row = -1 - intent.value;
                const bool again = tryChosen == row;
                tryChosen = row;
                moveTry(0);
                if (again) return openTry();
            }
            break;
        default: break;
    }
    return std::nullopt;
}

std::optional<TryChosen> HistoryScreen::actOpened(const Intent& intent) {
    switch (intent.kind) {
        case Kind::previous:
        case Kind::following: {
            const int before = *tryChosen;
            const auto stop = playing ? wanted(TryChosen::Kind::stop) : std::nullopt;
            moveTry(intent.kind == Kind::previous ? -1 : +1);
            if (*tryChosen == before) return std::nullopt;
            const auto read = openTry();
            return read ? read : stop;
        }
        case Kind::less:
        case Kind::open: {
            opened = false;
            auto stop = playing ? wanted(TryChosen::Kind::stop) : std::nullopt;
            playing = false;
            return stop;
        }
        case Kind::decline: return strike();
        case Kind::choose:
            if (!trace) return std::nullopt;
            playing = !playing;
            noOutput = false;
            return wanted(playing ? TryChosen::Kind::play : TryChosen::Kind::stop);
        default: return std::nullopt;
    }
}

// What changes with the log alone: a key must not cost a walk through years of tries.
void HistoryScreen::refreshTotals() {
    shown.sittings.clear();
    shown.gestures.clear();
    std::vector<LoggedTry> every;
    for (const ReadSitting& one : sittings) {
        every.insert(every.end(), one.tries.begin(), one.tries.end());
        shown.sittings.push_back({dateWords(one.summary.sitting.started),
                                  fmt::format("{}", fmt::join(one.summary.drills, ", ")),
                                  resultWords(tallyOf(one.tries).gestures())});
    }
    for (const GestureTally& tally : tallyOf(every).gestures()) {
        const std::string none = kindOf(tally.gesture).overFrets ? "slides count by fret" : "nothing landed";
        shown.gestures.push_back(
            {std::string(kindOf(tally.gesture).plural),
             tally.typicalMiss ? fmt::format("usually {:.0f} ¢ off", tally.typicalMiss->value) : none,
             fmt::format("{:.0f} % inside the aim", 100.0 * tally.shareInside()),
             enoughForTrend(every, tally.gesture) ? "" : "Too early for a trend"});
    }
}

void HistoryScreen::refresh() {
    shown.sitting = chosen;
    shown.selectedTry = tryChosen;
    shown.message = !message.empty() ? message : isReading && sittings.empty() ? "Reading the log ..." : "";
    shown.totals.clear();
    shown.tries.clear();
    if (const ReadSitting* here = sitting()) {
        shown.totals = fmt::format(
            "All of {}'s sittings. Dropped tries are not counted, and guided ones only where there are fewer than "
            "three "
            "others.",
            here->summary.sitting.student);
        for (const LoggedTry& one : here->tries)
            shown.tries.push_back({rowWords(one.landing.move, here->summary.sitting.guitar),
                                   wordsOf(one.landing, {.aim = one.aim.value}).headline, markOf(one.landing, one.aim),
                                   one.struck});
    }
    shown.opened.reset();
    refreshOpened();
}

void HistoryScreen::refreshOpened() {
    const LoggedTry* one = opened ? chosenTry() : nullptr;
    if (!one) return;
    const Landing& landing = one->landing;
    const Guitar& guitar = sitting()->summary.sitting.guitar;
    OpenedTry& open = shown.opened.emplace();
    open.title = fmt::format("{} · {}{}", one->drill,
                             onGuitar(landing.move, guitar) ? placeName(guitar, *landing.move.place) + " · " : "",
                             moveWords(landing.move));
    open.sentence = landing.sentence + (one->struck ? " (dropped)" : "");
    open.quantities = quantitiesOf(*one);
    open.sound = !noTrace.empty() ? noTrace
                 : !trace         ? "Reading its sound ..."
                 : playing        ? "Playing. Enter stops it."
                 : noOutput       ? "Its sound is kept, but there is no sound output to play it on."
                                  : "Enter plays it.";
    if (!trace) return;
    Practice& sweep = open.sweep.emplace();
    sweep.moment = Moment::landed;
    sweep.feedback = Feedback::afterTry;
    sweep.traces = {*trace};
    sweep.aim = one->aim;
    if (kindOf(landing.move.gesture).course != Course::stands)
        sweep.steps.front().start = landing.move.from - landing.move.to;
    if (!trace->points.empty())
        sweep.sweepLength = Seconds(std::clamp(std::ceil(trace->points.back().sinceStroke.value), 3.0, 10.0));
}

}  // namespace landfall
