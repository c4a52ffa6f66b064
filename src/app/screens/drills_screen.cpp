#include "src/app/screens/drills_screen.h"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include "gui/words.h"
#include "src/music/line_on_guitar.h"
#include "src/music/name_match.h"
#include "src/practice/practice_care.h"
#include "src/review/next_place.h"
#include "src/system/printable.h"

namespace landfall {

namespace {

using Kind = Intent::Kind;

// Between a drill's name and the place it was taken to.
constexpr const char* placeMark = " · ";

bool has(const Drill& drill, Gesture gesture) {
    return std::any_of(drill.steps.begin(), drill.steps.end(),
                       [&](const DrillStep& step) { return step.gesture == gesture; });
}

bool uses(const Drill& drill, int string) {
    return std::any_of(drill.places.begin(), drill.places.end(),
                       [&](NeckPlace place) { return place.string == string; });
}

// The next of some values and "every one" (empty), in a circle.
template <typename T>
std::optional<T> around(const std::vector<T>& values, std::optional<T> now, int by) {
    const int count = static_cast<int>(values.size()) + 1;
    int index = 0;
    for (std::size_t i = 0; i < values.size(); ++i)
        if (now == values[i]) index = static_cast<int>(i) + 1;
    index = (index + by + count) % count;
    return index == 0 ? std::nullopt : std::optional<T>(values[static_cast<std::size_t>(index - 1)]);
}

// How many of a drill's places fit into the longest drill.
int placesThatFit(Drill drill, const CareLimits& limits = {}) {
    int fit = 1;
    for (int count = 2; count <= 12; ++count) {
        drill.places.assign(static_cast<std::size_t>(count), NeckPlace{});
        if (drillLength(drill).value <= limits.drill.value) fit = count;
    }
    return fit;
}

std::string joined(const std::vector<int>& frets) { return fmt::format("{}", fmt::join(frets, ", ")); }

}  // namespace

DrillsScreen::DrillsScreen(const Guitar& given, OwnDrills own, OwnPhrases ownLines) : guitar(given) {
    setOwn(std::move(own), std::move(ownLines));
}

void DrillsScreen::setOwn(OwnDrills own, OwnPhrases ownLines) {
    const std::string before = chosenName();
    drills = builtInDrills();
    drills.insert(drills.end(), std::make_move_iterator(own.drills.begin()), std::make_move_iterator(own.drills.end()));
    // Where the eye begins.
    if (const auto next = std::ranges::find(drills, whatNextName, &Drill::name); next != drills.end())
        std::rotate(drills.begin(), next, next + 1);
    lines.clear();
    for (const PhraseFile& phrase : builtInPhrases()) lines.push_back(phrase.line);
    for (PhraseFile& phrase : ownLines.phrases) lines.push_back(std::move(phrase.line));
    std::vector<std::string> problems = std::move(own.problems);
    problems.insert(problems.end(), ownLines.problems.begin(), ownLines.problems.end());
    list.message = problems.empty() ? "" : problems.front();
    if (problems.size() > 1) list.message += fmt::format(" (and {} more)", problems.size() - 1);
    refresh();
    choose(before);
}

void DrillsScreen::setGuitar(const Guitar& given) {
    guitar = given;
    elsewhere.reset();
    if (string && *string > guitar.stringCount()) string.reset();
    refresh();
}

void DrillsScreen::say(std::string message) { list.message = std::move(message); }

bool DrillsScreen::passes(const Drill& drill) const {
    return (!gesture || has(drill, *gesture)) && (!string || uses(drill, *string));
}

// Has a move that fits both filters.
bool DrillsScreen::passes(const Line& line) const {
    return std::any_of(line.moves.begin(), line.moves.end(), [this](const LineMove& each) {
        return (!gesture || each.move.gesture == *gesture)
               && (!string || (each.move.place && each.move.place->string == *string));
    });
}

DrillRow DrillsScreen::rowOf(const Drill& drill) const {
    Drill here = drill;
    here.places.clear();
    here.with.clear();
    for (std::size_t i = 0; i < drill.places.size(); ++i) {
        if (!movesAt(drill, guitar, drill.places[i])) continue;
        here.places.push_back(drill.places[i]);
        if (i < drill.with.size()) here.with.push_back(drill.with[i]);
    }
    if (here.places.empty()) return {drill.name, drill.trains, "not on this guitar", ""};
    return {drill.name, drill.trains, describePlaces(here, guitar),
            fmt::format("{} tries, {}", totalTries(here), minutesWords(drillLength(here)))};
}

DrillRow DrillsScreen::rowOf(const Line& line) const {
    const std::string what =
        fmt::format("A phrase of {} bars{}, at your own tempo.", line.barBegins.size(),
                    line.tempo ? fmt::format(", written at {:g} quarters a minute", *line.tempo) : "");
    if (!otherGuitar(line, guitar).empty()) return {line.title, what, "not on this guitar", ""};
    std::vector<std::string> strings;
    for (int each = 1; each <= guitar.stringCount(); ++each)
        if (std::any_of(line.moves.begin(), line.moves.end(),
                        [each](const LineMove& one) { return one.move.place && one.move.place->string == each; }))
            strings.push_back(stringName(guitar, each));
    return {line.title, what, fmt::format("{}", fmt::join(strings, ", ")), fmt::format("{} moves", line.moves.size())};
}

void DrillsScreen::refresh() {
    list.rows.clear();
    shown.clear();
    for (std::size_t i = 0; i < drills.size(); ++i) {
        if (!passes(drills[i])) continue;
        shown.push_back(i);
        list.rows.push_back(rowOf(drills[i]));
    }
    for (std::size_t i = 0; i < lines.size(); ++i) {
        if (!passes(lines[i])) continue;
        shown.push_back(drills.size() + i);
        list.rows.push_back(rowOf(lines[i]));
    }
    list.selected = std::clamp(list.selected, 0, std::max(0, static_cast<int>(shown.size()) - 1));
    list.gestures = gesture ? std::string(kindOf(*gesture).plural) : "every gesture";
    list.strings = string ? stringName(guitar, *string) : "every string";
    refreshElsewhere();
}

std::optional<Drill> DrillsScreen::chosen() const {
    if (shown.empty() || chosenLine() != nullptr) return std::nullopt;
    return drills[shown[static_cast<std::size_t>(list.selected)]];
}

const Line* DrillsScreen::chosenLine() const {
    if (shown.empty()) return nullptr;
    const std::size_t at = shown[static_cast<std::size_t>(list.selected)];
    return at < drills.size() ? nullptr : &lines[at - drills.size()];
}

std::string DrillsScreen::chosenName() const {
    return list.rows.empty() ? "" : list.rows[static_cast<std::size_t>(list.selected)].name;
}

void DrillsScreen::choose(const std::string& name) {
    for (std::size_t i = 0; i < list.rows.size(); ++i)
        if (matchKey(list.rows[i].name) == matchKey(name)) {
            list.selected = static_cast<int>(i);
            return;
        }
}

DrillChosen DrillsScreen::after(const std::string& name) const {
    for (std::size_t i = 0; i < drills.size(); ++i)
        if (matchKey(drills[i].name) == matchKey(name)) {
            // One that this guitar cannot play is passed over.
            for (std::size_t step = 1; step < drills.size(); ++step) {
                const Drill& next = drills[(i + step) % drills.size()];
                if (!placesOn(next, guitar).places.empty()) return {next};
            }
            return {drills[i]};
        }
    return {drills.front()};
}

void DrillsScreen::changeFilter(int by) {
    if (list.line == DrillList::Line::strings) {
        std::vector<int> used;
        for (int each = 1; each <= guitar.stringCount(); ++each)
            if (std::any_of(drills.begin(), drills.end(), [&](const Drill& drill) { return uses(drill, each); }))
                used.push_back(each);
        string = around(used, string, by);
    } else {
        std::vector<Gesture> played;
        for (const GestureKind& each : gestureKinds())
            if (std::any_of(drills.begin(), drills.end(), [&](const Drill& drill) { return has(drill, each.gesture); }))
                played.push_back(each.gesture);
        gesture = around(played, gesture, by);
    }
    list.selected = 0;
    refresh();
}

Wish DrillsScreen::act(const Intent& intent) {
    return elsewhere ? Wish{.play = actElsewhere(intent)} : actList(intent);
}

Wish DrillsScreen::startChosen() {
    const Line* line = chosenLine();
    if (line == nullptr) {
        const auto drill = chosen();
        return {.play = drill ? start(*drill, false) : std::nullopt};
    }
    list.message = otherGuitar(*line, guitar);
    if (!list.message.empty()) return {};
    const auto heavy = heavyReason(*line, guitar);
    if (heavy && warnedOf != line->title) {
        warnedOf = line->title;
        list.message = "Hard on the hand (" + *heavy + "): enter again asks for it all the same";
        return {};
    }
    return {.phrase = *line};
}

Wish DrillsScreen::actList(const Intent& intent) {
    using Marked = DrillList::Line;
    const int last = static_cast<int>(shown.size()) - 1;
    if (intent.kind != Kind::open) list.message.clear();
    if (intent.kind != Kind::choose && intent.kind != Kind::pick) warnedOf.clear();
    switch (intent.kind) {
        case Kind::previous:
            if (list.line == Marked::drills && list.selected > 0) --list.selected;
            else list.line = list.line == Marked::drills ? Marked::strings : Marked::gestures;
            break;
        case Kind::following:
            if (list.line == Marked::drills) list.selected = std::min(list.selected + 1, std::max(0, last));
            else list.line = list.line == Marked::gestures ? Marked::strings : Marked::drills;
            break;
        case Kind::less: changeFilter(-1); break;
        case Kind::more: changeFilter(+1); break;
        case Kind::pick:
            for (const Marked filter : {Marked::gestures, Marked::strings})
                if (intent.value == pickedFilter(filter)) list.line = filter;
            if (intent.value < 0 || intent.value > last) break;
            list.line = Marked::drills;
            if (intent.value != list.selected) {
                list.selected = intent.value;
                break;
            }
            [[fallthrough]];
        case Kind::choose: return startChosen();
        case Kind::decline: openElsewhere(); break;
        default: break;
    }
    return {};
}

std::optional<DrillChosen> DrillsScreen::start(Drill drill, bool changed) {
    const FittedPlaces fitted = placesOn(drill, guitar);
    if (fitted.places.empty()) {
        list.message = fitted.missing.empty() ? drill.name + " has no place on this guitar" : fitted.missing.front();
        return std::nullopt;
    }
    // Only a place chosen with the warning in view counts as asked for.
    const bool heavy = changed && std::any_of(fitted.places.begin(), fitted.places.end(), [&](NeckPlace place) {
                           return heavyReason(drill, guitar, place).has_value();
                       });
    return DrillChosen{std::move(drill), changed, heavy};
}

std::vector<int> DrillsScreen::fretsOn(const Drill& drill, int onString) const {
    std::vector<int> frets;
    for (int fret = widestBend(drill) > 0.0 ? 1 : 0; fret <= guitar.highestPlayedFret(); ++fret)
        if (movesAt(drill, guitar, {onString, fret})) frets.push_back(fret);
    return frets;
}

std::vector<int> DrillsScreen::stringsOf(const Drill& drill) const {
    std::vector<int> strings;
    for (int each = 1; each <= guitar.stringCount(); ++each)
        if (!fretsOn(drill, each).empty()) strings.push_back(each);
    return strings;
}

void DrillsScreen::openElsewhere() {
    const auto drill = chosen();
    if (!drill) {
        if (chosenLine() != nullptr) list.message = "A phrase is played where it is written";
        return;
    }
    if (!drill->with.empty()) {
        list.message = "Several strings are played where they are written";
        return;
    }
    const std::vector<int> strings = stringsOf(*drill);
    if (strings.empty()) {
        list.message = "No string of this guitar is long enough for " + drill->name + ".";
        return;
    }
    Elsewhere now{*drill, drill->places.empty() ? strings.front() : drill->places.front().string, 0, 0};
    if (std::find(strings.begin(), strings.end(), now.string) == strings.end()) now.string = strings.front();
    const std::vector<int> frets = fretsOn(now.drill, now.string);
    now.lowest = frets.back();
    now.highest = frets.front();
    for (const NeckPlace place : now.drill.places)
        if (place.string == now.string) {
            now.lowest = std::min(now.lowest, place.fret);
            now.highest = std::max(now.highest, place.fret);
        }
    if (now.lowest > now.highest) now.lowest = now.highest = frets.front();
    elsewhere = now;
    elsewhereRow = 0;
    refreshElsewhere();
}

// The frets of the range that are played: all of them, or as many as fit into the longest drill, evenly spread with
// both ends.
Drill DrillsScreen::elsewhereDrill() const {
    Drill drill = elsewhere->drill;
    const int range = elsewhere->highest - elsewhere->lowest + 1;
    const int count = std::min(range, placesThatFit(drill));
    drill.places.clear();
    for (int i = 0; i < count; ++i) {
        const double share = count == 1 ? 0.0 : static_cast<double>(i) / (count - 1);
        drill.places.push_back(
            {elsewhere->string, elsewhere->lowest + static_cast<int>(std::lround(share * (range - 1)))});
    }
    std::string base = drill.name.substr(0, drill.name.find(placeMark));
    const std::string place = placeMark + stringName(guitar, elsewhere->string) + " "
                              + (range == 1 ? fmt::format("{}", elsewhere->lowest)
                                            : fmt::format("{}-{}", elsewhere->lowest, elsewhere->highest));
    while (characterCount(base + place) > longestDrillName) {  // a whole character off its end
        while ((static_cast<unsigned char>(base.back()) & 0xC0) == 0x80) base.pop_back();
        base.pop_back();
    }
    drill.name = base + place;
    return drill;
}

void DrillsScreen::refreshElsewhere() {
    if (!elsewhere) {
        list.elsewhere.reset();
        return;
    }
    const Drill drill = elsewhereDrill();
    std::vector<int> frets;
    std::optional<std::string> heavy;
    for (const NeckPlace place : drill.places) {
        frets.push_back(place.fret);
        if (const auto reason = heavyReason(drill, guitar, place); reason && !heavy) heavy = reason;
    }
    PlaceChoice choice;
    choice.drill = elsewhere->drill.name.substr(0, elsewhere->drill.name.find(placeMark));
    choice.rows = {{"string", stringName(guitar, elsewhere->string)},
                   {"lowest fret", fmt::format("{}", elsewhere->lowest)},
                   {"highest fret", fmt::format("{}", elsewhere->highest)}};
    choice.selected = elsewhereRow;
    choice.neck = neckOf(guitar);
    choice.neck.place = NeckPlace{elsewhere->string, elsewhere->lowest};
    if (elsewhere->highest > elsewhere->lowest) choice.neck.targetFret = elsewhere->highest;
    const bool thinned = static_cast<int>(frets.size()) < elsewhere->highest - elsewhere->lowest + 1;
    choice.plays =
        fmt::format("{} {}: {} tries, {}{}.{}", frets.size() == 1 ? "Fret" : "Frets", joined(frets), totalTries(drill),
                    minutesWords(drillLength(drill)), thinned ? "; more would take over four minutes" : "",
                    heavy ? " Hard on the hand (" + *heavy + "): enter asks for it all the same." : "");
    list.elsewhere = choice;
}

// The highest fret where that row is marked, else the lowest; a string that the drill is not for stays as it is.
void DrillsScreen::pickOnNeck(NeckPlace place) {
    Elsewhere& now = *elsewhere;
    const std::vector<int> strings = stringsOf(now.drill);
    if (std::find(strings.begin(), strings.end(), place.string) == strings.end()) return;
    now.string = place.string;
    if (elsewhereRow == 0) elsewhereRow = 1;
    (elsewhereRow == 2 ? now.highest : now.lowest) = place.fret;
    stepElsewhere(0);
}

void DrillsScreen::stepElsewhere(int by) {
    Elsewhere& now = *elsewhere;
    if (elsewhereRow == 0) {
        const std::vector<int> strings = stringsOf(now.drill);
        const auto at = std::find(strings.begin(), strings.end(), now.string) - strings.begin();
        const auto count = static_cast<std::ptrdiff_t>(strings.size());
        now.string = strings[static_cast<std::size_t>((at + by + count) % count)];
    } else {
        (elsewhereRow == 1 ? now.lowest : now.highest) += by;
    }
    const std::vector<int> frets = fretsOn(now.drill, now.string);
    now.lowest = std::clamp(now.lowest, frets.front(), frets.back());
    now.highest = std::clamp(now.highest, frets.front(), frets.back());
    if (now.lowest > now.highest)
        (elsewhereRow == 1 ? now.highest : now.lowest) = elsewhereRow == 1 ? now.lowest : now.highest;
}

std::optional<DrillChosen> DrillsScreen::actElsewhere(const Intent& intent) {
    switch (intent.kind) {
        case Kind::previous: elsewhereRow = std::max(0, elsewhereRow - 1); break;
        case Kind::following: elsewhereRow = std::min(2, elsewhereRow + 1); break;
        case Kind::pick:
            if (intent.value < pickedFromNeck) elsewhereRow = std::clamp(intent.value, 0, 2);
            else pickOnNeck({intent.value / pickedFromNeck, intent.value % pickedFromNeck});
            break;
        case Kind::less: stepElsewhere(-1); break;
        case Kind::more: stepElsewhere(+1); break;
        case Kind::decline:
        case Kind::open: elsewhere.reset(); break;
        case Kind::choose: {
            Drill drill = elsewhereDrill();
            // The same places as before are no new drill.
            const bool changed = drill.places != elsewhere->drill.places;
            if (!changed) drill.name = elsewhere->drill.name;
            elsewhere.reset();
            auto wanted = start(drill, true);
            if (wanted) wanted->keep = changed;
            if (wanted && changed) {
                const auto old = std::find_if(drills.begin(), drills.end(), [&](const Drill& one) {
                    return matchKey(one.name) == matchKey(drill.name);
                });
                if (old != drills.end()) *old = drill;
                else drills.push_back(drill);
                gesture.reset();
                string.reset();
                refresh();
                choose(drill.name);
            }
            refreshElsewhere();
            return wanted;
        }
        default: break;
    }
    refreshElsewhere();
    return std::nullopt;
}

}  // namespace landfall
