#include "src/app/screens/progress_screen.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include "gui/words.h"
#include "src/app/screens/opened_try.h"
#include "src/app/screens/typed_text.h"
#include "src/music/drill.h"
#include "src/practice/verdict.h"
#include "src/practice/words.h"
#include "src/review/report_drawings.h"
#include "src/store/totals.h"

namespace landfall {

namespace {

using Kind = Intent::Kind;

constexpr double ninety = 1.6449;  // of a normal distribution
constexpr std::size_t mostDays = 40;

// "full step, G 7"
std::string rowWords(const Move& move, const Guitar& guitar) {
    if (!onGuitar(move, guitar)) return moveWords(move);
    return fmt::format("{}, {} {}", moveWords(move), stringNames(guitar, move.place->string).brief, move.place->fret);
}

// "12 under ±6"
std::string meanWords(const Estimate& mean) {
    return fmt::format("{} ±{:.0f}", leaning(mean.value), saidDoubt(ninety * mean.se));
}

std::string leanWords(const KindReview& kind) {
    if (kind.measured == 0) return fmt::format("{} of {} on the fret that was asked", kind.inside, kind.tries);
    if (!kind.doubt)
        return fmt::format("Played on {} {}: it takes three to say how it leans", kind.days,
                           kind.days == 1 ? "day" : "days");
    if (std::abs(kind.bias) > *kind.doubt)
        return fmt::format("{} on the whole, sure to within {:.0f}", leaning(kind.bias), saidDoubt(*kind.doubt));
    return fmt::format("No sure lean: {}, give or take {:.0f}", leaning(kind.bias), saidDoubt(*kind.doubt));
}

MapMark markOf(const MapCell& cell) {
    using Lean = MapMark::Lean;
    if (cell.tries < leastForPlace) return {cell.place, Lean::few, fmt::format("{} ×", cell.tries), ""};
    const bool sure = std::abs(cell.bias) > cell.doubt;
    return {cell.place,
            !sure             ? Lean::unsure
            : cell.bias < 0.0 ? Lean::under
                              : Lean::over,
            signedCents(Cents(cell.bias)), fmt::format("±{:.0f}", saidDoubt(cell.doubt))};
}

// "G string · fret 7: 14 under, sure to within 4; 120 tries on 14 days"
std::string placeWords(const MapCell& cell, const Guitar& guitar) {
    const std::string tries = fmt::format("{} {} on {} {}", cell.tries, cell.tries == 1 ? "try" : "tries", cell.days,
                                          cell.days == 1 ? "day" : "days");
    const std::string at = placeName(guitar, cell.place);
    if (cell.tries < leastForPlace)
        return fmt::format("{}: {}; {} are needed to say how it lands there", at, tries, leastForPlace);
    const std::string spread = fmt::format("spread {:.0f} ¢", cell.spread);
    if (std::abs(cell.bias) > cell.doubt)
        return fmt::format("{}: {}, sure to within {:.0f}; {}; {}", at, leaning(cell.bias), saidDoubt(cell.doubt),
                           spread, tries);
    return fmt::format("{}: no sure side, {} give or take {:.0f}; {}; {}", at, leaning(cell.bias),
                       saidDoubt(cell.doubt), spread, tries);
}

// A figure of a kind, and whose tries it was made of.
struct Figure {
    Quantity shown;
    Behind::Which which;
};
std::vector<Figure> figuresOf(const KindReview& kind, const Progress* progress) {
    using Which = Behind::Which;
    const auto share = [&](int count) { return fmt::format("{} of {}", count, kind.tries); };
    std::vector<Figure> all{
        {{kindOf(kind.kind.gesture).overFrets ? "on the fret" : "inside the aim", share(kind.inside)}, Which::inside}};
    if (kind.measured > 0) {
        all.push_back({{"under it", share(kind.under)}, Which::under});
        all.push_back({{"over it", share(kind.over)}, Which::over});
    }
    all.push_back({{"lost", share(kind.lost)}, Which::lost});
    if (kind.measured > 0) {
        all.push_back({{"usually off by", fmt::format("{:.0f} ¢", kind.typicalMiss)}, Which::measured});
        all.push_back({{"spread", fmt::format("{:.0f} ¢", kind.spread)}, Which::measured});
    }
    if (kind.arrival) all.push_back({{"time to arrive", fmt::format("{:.2f} s", *kind.arrival)}, Which::all});
    if (progress == nullptr) return all;
    for (const bool first : {true, false}) {
        std::vector<double> means;
        for (const DayMean& day : progress->days)
            if (const Estimate& mean = first ? day.cold : day.warm; mean.count > 0) means.push_back(mean.value);
        if (!means.empty())
            all.push_back({{first ? "a day's first tries" : "its later tries", leaning(plainMean(means).value)},
                           first ? Which::first : Which::later});
    }
    return all;
}

std::string wordsOf(Behind::Which which) {
    switch (which) {
        case Behind::Which::all:
        case Behind::Which::measured: return "all";
        case Behind::Which::inside: return "inside the aim";
        case Behind::Which::under: return "under the aim";
        case Behind::Which::over: return "over the aim";
        case Behind::Which::lost: return "lost";
        case Behind::Which::first: return "each day's first";
        case Behind::Which::later: return "each day's later ones";
    }
    return "";
}

template <typename Index>
Index within(Index index, std::size_t count) {
    return std::clamp(index, 0, std::max(0, static_cast<int>(count) - 1));
}

}  // namespace

void ProgressScreen::reading() {
    isReading = true;
    refresh();
}

void ProgressScreen::setLog(StudentReview review) {
    if (review.student.uuid != log.student.uuid) {
        page = Page::overview;
        part = Overview::Part::kind;
        kindChosen = place = figure = chosen = 0;
        tryChosen.reset();
        opened = false;
        sittings.clear();
    }
    const std::int64_t id = sitting() ? sitting()->id : 0;  // counts from 1
    const bool first = sittings.empty();
    isReading = false;
    log = std::move(review);
    sittings = std::move(log.sittings);
    std::reverse(sittings.begin(), sittings.end());
    chosen = 0;
    for (std::size_t i = 0; i < sittings.size(); ++i)
        if (id == sittings[i].id) chosen = static_cast<int>(i);
    if (page != Page::behind) triesAsked = false;  // a figure's stay as they were when it was opened
    if (page != Page::behind && (!sitting() || sitting()->id != id)) {
        tryChosen.reset();
        opened = false;
    }
    if (first) day = static_cast<int>(mostDays);  // the latest
    change(0);
    refreshSittings();
    refresh();
}

void ProgressScreen::say(std::string words) {
    isReading = false;
    message = std::move(words);
    refresh();
}

const SittingSummary* ProgressScreen::sitting() const {
    return chosen < static_cast<int>(sittings.size()) ? &sittings[static_cast<std::size_t>(chosen)] : nullptr;
}

const SittingSummary* ProgressScreen::sittingOf(std::int64_t id) const {
    const auto at = std::ranges::find(sittings, id, &SittingSummary::id);
    return at != sittings.end() ? &*at : nullptr;
}

const TryBehind* ProgressScreen::chosenTry() const {
    if (!tryChosen || *tryChosen >= static_cast<int>(tries.size())) return nullptr;
    return &tries[static_cast<std::size_t>(*tryChosen)];
}

TryBehind* ProgressScreen::chosenTry() { return const_cast<TryBehind*>(std::as_const(*this).chosenTry()); }

std::optional<KeptNote> ProgressScreen::noteHere() const {
    KeptNote note;
    const TryBehind* one = chosenTry();
    if (page == Page::overview || (one == nullptr && (page == Page::behind || sitting() == nullptr))) return {};
    note.sitting = one ? one->sitting : sitting()->id;
    note.number = one ? one->oneTry.number : 0;
    for (const KeptNote& each : log.notes)
        if (each.sitting == note.sitting && each.number == note.number) return each;
    return note;
}

void ProgressScreen::beginNote() {
    const auto note = noteHere();
    if (!note) return;
    typedFor = *note;
    typing = note->text;
}

std::optional<Wish::Written> ProgressScreen::actTyping(const Intent& intent) {
    if (intent.kind == Kind::typed) append(*typing, static_cast<unsigned>(intent.value), longestNote);
    if (intent.kind == Kind::erase) eraseLast(*typing);
    if (intent.kind == Kind::decline) typing.reset();
    if (intent.kind != Kind::choose) return {};
    typedFor.text = trimmed(*typing);
    typing.reset();
    if (typedFor.uuid.empty()) typedFor.written = calendarNow();
    if (typedFor.text.empty() && typedFor.uuid.empty()) return {};
    return Wish::Written{log.student, typedFor};
}

const KindReview* ProgressScreen::kind() const {
    return kindChosen < static_cast<int>(log.kinds.size()) ? &log.kinds[static_cast<std::size_t>(kindChosen)] : nullptr;
}

std::vector<const MapCell*> ProgressScreen::places() const {
    std::vector<const MapCell*> found;
    for (const MapCell& cell : log.map.cells)
        if (kind() && cell.kind == kind()->kind && hasPlace(log.guitar, cell.place)) found.push_back(&cell);
    return found;
}

const Progress* ProgressScreen::progress() const {
    for (const Progress& each : log.progress)
        if (kind() && each.kind == kind()->kind) return &each;
    return nullptr;
}

std::vector<const DayMean*> ProgressScreen::days() const {
    std::vector<const DayMean*> found;
    if (const Progress* of = progress())
        for (std::size_t i = of->days.size() - std::min(of->days.size(), mostDays); i < of->days.size(); ++i)
            found.push_back(&of->days[i]);
    return found;
}

std::optional<ToRead> ProgressScreen::toRead() {
    ToRead wish{.student = log.student};
    if (page == Page::sittings && !triesAsked && sitting()) {
        triesAsked = true;
        wish.sitting = sitting()->id;
        return wish;
    }
    if (page == Page::behind && !triesAsked) {
        triesAsked = true;
        wish.what = ToRead::What::behind;
        wish.behind = behind;
        return wish;
    }
    const TryBehind* one = chosenTry();
    if (one == nullptr || (neighboursSitting == one->sitting && neighboursNumber == one->oneTry.number)) return {};
    neighboursSitting = one->sitting;
    neighboursNumber = one->oneTry.number;
    neighbours.reset();
    wish.what = ToRead::What::neighbours;
    wish.sitting = one->sitting;
    wish.oneTry = one->oneTry;
    return wish;
}

void ProgressScreen::setTries(const ToRead& asked, Result<ReadTries> read) {
    const bool here = asked.what == ToRead::What::behind
                          ? page == Page::behind
                          : page == Page::sittings && sitting() && sitting()->id == asked.sitting;
    if (!here) return;
    if (!read) return say(read.error().message);
    tries = std::move(read->tries);
    triesCount = read->count;
    triesRead = true;
    if (page == Page::behind && !tryChosen && !tries.empty()) tryChosen = 0;
    if (tryChosen && tries.empty()) tryChosen.reset();
    if (tryChosen) tryChosen = within(*tryChosen, tries.size());
    opened = opened && tryChosen;
    refresh();
}

void ProgressScreen::setNeighbours(const ToRead& asked, Result<Neighbours> read) {
    if (asked.sitting != neighboursSitting || asked.oneTry.number != neighboursNumber) return;
    if (!read) return say(read.error().message);
    neighbours = std::move(*read);
    refresh();
}

std::optional<TryChosen> ProgressScreen::wanted(TryChosen::Kind what) {
    const TryBehind* one = chosenTry();
    const SittingSummary* of = one ? sittingOf(one->sitting) : nullptr;
    if (!of) return std::nullopt;
    return TryChosen{what, of->id, of->sitting.token, of->sitting.guitar, one->oneTry};
}

std::optional<TryChosen> ProgressScreen::openTry() {
    const TryBehind* one = chosenTry();
    if (!one) return std::nullopt;
    opened = true;
    trace.reset();
    sound = TrySound::of(one->oneTry);
    return sound.none.empty() ? wanted(TryChosen::Kind::read) : std::nullopt;
}

std::optional<TryChosen> ProgressScreen::strike() {
    TryBehind* one = chosenTry();
    if (!one) return std::nullopt;
    one->oneTry.struck = !one->oneTry.struck;
    if (page == Page::sittings) {
        std::vector<LoggedTry> all;
        for (const TryBehind& each : tries) all.push_back(each.oneTry);
        sittings[static_cast<std::size_t>(chosen)].gestures = tallyOf(all).gestures();
        refreshSittings();
    }
    return wanted(one->oneTry.struck ? TryChosen::Kind::strike : TryChosen::Kind::restore);
}

void ProgressScreen::moveTry(int by) { tryChosen = within(*tryChosen + by, tries.size()); }

void ProgressScreen::chooseSitting(int index) {
    index = within(index, sittings.size());
    if (index == chosen && page == Page::sittings) return;
    chosen = index;
    page = Page::sittings;
    tries.clear();
    triesRead = triesAsked = false;
    tryChosen.reset();
}

void ProgressScreen::setTake(std::int64_t sittingId, int number, const Result<ReadTake>& take) {
    const TryBehind* one = chosenTry();
    if (!opened || !one || one->oneTry.number != number || one->sitting != sittingId) return;
    sound.heard = static_cast<bool>(take);
    if (take) trace = take->trace;
    else sound.none = take.error().message;
    refresh();
}

void ProgressScreen::played() {
    sound.playing = false;
    refresh();
}

void ProgressScreen::cannotPlay() {
    sound.playing = false;
    sound.noOutput = true;
    refresh();
}

Wish ProgressScreen::act(const Intent& intent) {
    message.clear();
    Wish wish;
    if (typing) wish.note = actTyping(intent);
    else if (intent.kind == Kind::note) beginNote();
    else if (opened) wish.oneTry = actOpened(intent);
    else if (page == Page::overview) actOverview(intent);
    else if (tryChosen || page == Page::behind) wish.oneTry = actTries(intent);
    else wish.oneTry = actList(intent);
    refresh();
    return wish;
}

// Along the chosen part; what another kind does not have as many of ends there.
void ProgressScreen::change(int by) {
    using Part = Overview::Part;
    int* const along = part == Part::kind      ? &kindChosen
                       : part == Part::map     ? &place
                       : part == Part::figures ? &figure
                       : part == Part::days    ? &day
                                               : nullptr;
    if (along != nullptr) *along += by;
    kindChosen = within(kindChosen, log.kinds.size());
    place = within(place, places().size());
    day = within(day, days().size());
    figure = within(figure, kind() ? figuresOf(*kind(), progress()).size() : 0);
}

void ProgressScreen::actOverview(const Intent& intent) {
    using Part = Overview::Part;
    const auto has = [&](Part which) {
        return (which != Part::map || !places().empty()) && (which != Part::days || !days().empty());
    };
    const auto go = [&](int by) {
        int to = static_cast<int>(part) + by;
        while (to > 0 && to < static_cast<int>(Part::sittings) && !has(static_cast<Part>(to))) to += by;
        part = static_cast<Part>(std::clamp(to, 0, static_cast<int>(Part::sittings)));
    };
    if (sittings.empty()) return;
    switch (intent.kind) {
        case Kind::previous: go(-1); break;
        case Kind::following: go(+1); break;
        case Kind::less: change(-1); break;
        case Kind::more: change(+1); break;
        case Kind::choose: openFigure(); break;
        case Kind::see: pickOnOverview(-2); break;
        case Kind::pick: pickOnOverview(intent.value); break;
        default: break;
    }
}

// A click marks, and opens what is marked already.
void ProgressScreen::pickOnOverview(int value) {
    using Part = Overview::Part;
    const Part before = part;
    if (value == -2) {
        part = Part::sittings;
        return openFigure();
    }
    if (value < 0) {
        part = Part::kind;
        return;
    }
    part = value >= pickedDays ? Part::days : value >= pickedFigures ? Part::figures : Part::map;
    int& along = part == Part::days ? day : part == Part::figures ? figure : place;
    const int to = value - (part == Part::days ? pickedDays : part == Part::figures ? pickedFigures : pickedMap);
    const bool again = part == before && along == to;
    along = to;
    change(0);
    if (again) openFigure();
}

void ProgressScreen::openFigure() {
    using Part = Overview::Part;
    using Which = Behind::Which;
    if (part == Part::sittings) {
        page = Page::sittings;
        tries.clear();
        triesRead = triesAsked = false;
        tryChosen.reset();
        return;
    }
    if (!kind()) return;
    const MoveKind of = kind()->kind;
    const std::string name = capitalised(nameOf(of));
    if (part == Part::kind) toBehind({of, Which::all}, name);
    if (part == Part::map && !places().empty()) {
        const NeckPlace at = places()[static_cast<std::size_t>(place)]->place;
        toBehind({of, Which::measured, at}, fmt::format("{} · {}", name, placeName(log.guitar, at)));
    }
    if (part == Part::figures) {
        const Which which = figuresOf(*kind(), progress())[static_cast<std::size_t>(figure)].which;
        toBehind({of, which}, fmt::format("{} · {}", name, wordsOf(which)));
    }
    if (part == Part::days && !days().empty()) {
        const DayMean& mean = *days()[static_cast<std::size_t>(day)];
        toBehind({of, Which::measured, {}, mean.day}, fmt::format("{} · {}", name, dayWords(mean.at)));
    }
}

void ProgressScreen::toBehind(const Behind& figureOf, std::string title) {
    behind = figureOf;
    behindTitle = std::move(title);
    page = Page::behind;
    tries.clear();
    triesRead = triesAsked = false;
    tryChosen.reset();
}

// Of sittings.
std::optional<TryChosen> ProgressScreen::actList(const Intent& intent) {
    switch (intent.kind) {
        case Kind::previous: chooseSitting(chosen - 1); break;
        case Kind::following: chooseSitting(chosen + 1); break;
        case Kind::less:
        case Kind::open: page = Page::overview; break;
        case Kind::more:
        case Kind::choose:
            if (!triesRead || !tries.empty()) tryChosen = 0;
            break;
        case Kind::pick:
            if (intent.value >= 0) chooseSitting(intent.value);
            else if (!tries.empty()) tryChosen = within(-1 - intent.value, tries.size());
            break;
        default: break;
    }
    return std::nullopt;
}

std::optional<TryChosen> ProgressScreen::actTries(const Intent& intent) {
    switch (intent.kind) {
        case Kind::less:
        case Kind::open:
            tryChosen.reset();
            if (page == Page::behind) page = Page::overview;
            return std::nullopt;
        default: break;
    }
    if (!tryChosen) return std::nullopt;
    switch (intent.kind) {
        case Kind::previous: moveTry(-1); break;
        case Kind::following: moveTry(+1); break;
        case Kind::choose: return openTry();
        case Kind::decline: return strike();
        case Kind::pick: {
            const int row = within(-1 - intent.value, tries.size());
            const bool again = tryChosen == row;
            tryChosen = row;
            if (again) return openTry();
            break;
        }
        default: break;
    }
    return std::nullopt;
}

std::optional<TryChosen> ProgressScreen::actOpened(const Intent& intent) {
    switch (intent.kind) {
        case Kind::previous:
        case Kind::following: {
            const int before = *tryChosen;
            const auto stop = sound.playing ? wanted(TryChosen::Kind::stop) : std::nullopt;
            moveTry(intent.kind == Kind::previous ? -1 : +1);
            if (*tryChosen == before) return std::nullopt;
            const auto read = openTry();
            return read ? read : stop;
        }
        case Kind::less:
        case Kind::open: {
            opened = false;
            auto stop = sound.playing ? wanted(TryChosen::Kind::stop) : std::nullopt;
            sound.playing = false;
            return stop;
        }
        case Kind::decline: return strike();
        case Kind::choose:
            if (!sound.heard) return std::nullopt;
            sound.playing = !sound.playing;
            sound.noOutput = false;
            return wanted(sound.playing ? TryChosen::Kind::play : TryChosen::Kind::stop);
        default: return std::nullopt;
    }
}

// What changes with the log alone: a key must not cost a walk through years of sittings.
void ProgressScreen::refreshSittings() {
    shown.sittings.clear();
    for (const SittingSummary& one : sittings)
        shown.sittings.push_back({dateWords(one.sitting.started), fmt::format("{}", fmt::join(one.drills, ", ")),
                                  resultWords(one.gestures)});
}

void ProgressScreen::refresh() {
    shown.message = !message.empty() ? message : isReading && sittings.empty() ? "Reading the log ..." : "";
    shown.sitting = chosen;
    refreshOverview();
    refreshTries();
    refreshNeighbours();
    shown.opened.reset();
    refreshOpened();
    const auto note = noteHere();
    shown.noted = note ? note->text : "";
    shown.noteOn = note ? subjectOf(*note) : "";
    shown.typing = typing;
}

void ProgressScreen::refreshOverview() {
    shown.overview.reset();
    if (page != Page::overview || sittings.empty()) return;
    Overview& to = shown.overview.emplace();
    to.part = part;
    to.place = place;
    to.figure = figure;
    to.day = day;
    to.sittings = fmt::format("{} {}, the last on {}", sittings.size(), sittings.size() == 1 ? "sitting" : "sittings",
                              dateWords(sittings.front().sitting.started));
    to.care = wordsOf(log.care, 1);
    to.neck = neckOf(log.guitar);
    if (!kind()) {
        to.kind = "Nothing counted yet";
        to.mapWords = "Guided and dropped tries say nothing of how a move lands: play some without the live trace.";
        return;
    }
    const KindReview& of = *kind();
    to.kind = capitalised(nameOf(of.kind));
    to.of = log.kinds.size() > 1 ? fmt::format("{} of {}", kindChosen + 1, log.kinds.size()) : "";
    to.lean = leanWords(of);
    for (const MapCell* cell : places()) to.map.push_back(markOf(*cell));
    to.mapWords = !to.map.empty() ? fmt::format(
                      "− under, + over, ± how sure. Only framed: no sure side. 12 ×: tried so "
                      "often, {} are needed to say.",
                      leastForPlace)
                  : kindOf(of.kind.gesture).overFrets ? "Slides count by the fret they reach: no map of cents."
                  : of.kind.several                   ? "Several strings at once are not on the map of single places."
                                                      : "Nothing of it has been measured yet.";
    if (part == Overview::Part::map && !places().empty())
        to.mapWords = placeWords(*places()[static_cast<std::size_t>(place)], log.guitar);
    for (const Figure& each : figuresOf(of, progress())) to.figures.push_back(each.shown);
    if (progress()) to.trend = wordsOf(*progress());
    for (const DayMean* each : days()) {
        const auto mean = [](const Estimate& one) {
            return one.count > 0 ? std::optional(DayMark::Mean{Cents(one.value), Cents(ninety * one.se)})
                                 : std::nullopt;
        };
        to.days.push_back({mean(each->cold), mean(each->warm)});
    }
    if (days().empty()) return;
    const DayMean& mean = *days()[static_cast<std::size_t>(day)];
    to.daysWords = fmt::format("{}: first tries {}{}", dayWords(mean.at), meanWords(mean.cold),
                               mean.warm.count > 0 ? ", later ones " + meanWords(mean.warm) : std::string());
}

void ProgressScreen::refreshTries() {
    shown.selectedTry = page == Page::overview ? std::nullopt : tryChosen;
    shown.behind = page != Page::behind ? ""
                   : !triesRead         ? behindTitle + " · reading ..."
                   : triesCount > static_cast<int>(tries.size())
                       ? fmt::format("{} · the latest {} of {} tries", behindTitle, tries.size(), triesCount)
                       : fmt::format("{} · {} {}", behindTitle, triesCount, triesCount == 1 ? "try" : "tries");
    shown.tries.clear();
    if (page == Page::overview) return;
    for (const TryBehind& each : tries) {
        const LoggedTry& one = each.oneTry;
        const SittingSummary* of = sittingOf(each.sitting);
        const std::string move = rowWords(one.landing.move, of ? of->sitting.guitar : log.guitar);
        shown.tries.push_back({page == Page::behind ? dayWords(one.at) + ", " + move : move,
                               wordsOf(one.landing, {.aim = one.aim.value}).headline, markOf(one.landing, one.aim),
                               one.struck});
    }
}

void ProgressScreen::refreshNeighbours() {
    shown.here.reset();
    shown.before.reset();
    shown.hereWords = shown.beforeWords = "";
    const TryBehind* one = page != Page::overview ? chosenTry() : nullptr;
    if (!one || !neighbours || one->sitting != neighboursSitting || one->oneTry.number != neighboursNumber) return;
    const SittingSummary* of = sittingOf(one->sitting);
    std::vector<Trace> here, before;
    Trace itself;
    for (const CurvedTry& each : neighbours->here)
        (each.oneTry.number == one->oneTry.number ? itself : here.emplace_back()) = traceOf(each.oneTry, each.curve);
    for (const CurvedTry& each : neighbours->before) before.push_back(traceOf(each.oneTry, each.curve));
    const std::size_t others = here.size();
    here.push_back(std::move(itself));
    shown.here = sweepOf(std::move(here), one->oneTry, false);
    const auto& place_ = one->oneTry.landing.move.place;
    const std::string where =
        place_ && of && hasPlace(of->sitting.guitar, *place_) ? placeName(of->sitting.guitar, *place_) + " · " : "";
    shown.hereWords =
        fmt::format("{}{}: this try{}", where, of ? dayWords(of->sitting.started) : "",
                    others > 0 ? fmt::format(" and {} {} there", others, others == 1 ? "other" : "others") : "");
    if (!neighbours->when) {
        shown.beforeWords = "It had not been played there before.";
        return;
    }
    shown.beforeWords = fmt::format("The last time there, {}: {} {}", dayWords(*neighbours->when), before.size(),
                                    before.size() == 1 ? "try" : "tries");
    shown.before = sweepOf(std::move(before), one->oneTry, true);
    shown.before->sweepLength = shown.here->sweepLength = std::max(shown.before->sweepLength, shown.here->sweepLength);
}

void ProgressScreen::refreshOpened() {
    const TryBehind* chosenOne = opened ? chosenTry() : nullptr;
    if (!chosenOne) return;
    const LoggedTry& one = chosenOne->oneTry;
    const SittingSummary* of = sittingOf(chosenOne->sitting);
    OpenedTry& open = shown.opened.emplace(openedTry(one, of ? of->sitting.guitar : log.guitar, sound));
    // Older logs have no curves.
    const bool curve = shown.here && !shown.here->traces.back().points.empty();
    if (curve) open.sweep = shown.here;
    else if (trace) open.sweep = sweepOf({*trace}, one, false);
    open.notes = noteHere()->text;
}

}  // namespace landfall
