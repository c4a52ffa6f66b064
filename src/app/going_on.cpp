#include "src/app/going_on.h"

#include <algorithm>

#include "gui/words.h"

namespace landfall {

namespace {

using Kind = Intent::Kind;

// Strokes of what was played before are no sign.
constexpr double settles = 1.0;  // s

// A page that is done, or a rest.
struct Page {
    int number = 0;
    std::optional<Seconds> wait{};  // then it goes on by itself; empty: it ends by itself anyway
    Kind goesOn = Kind::choose, byItself = Kind::choose;
    bool hears = true;  // muted strokes
};

std::optional<Page> startPage(const Snapshot& shown) {
    const int number = static_cast<int>(shown.start.step);
    switch (shown.start.step) {
        // Of inputs that are only metered no strokes are known.
        case StartStep::device:
            if (!shown.start.moves || shown.start.inputs.empty()) return {};
            return Page{.number = number, .wait = Seconds(6.0), .hears = false};
        case StartStep::level:
            if (levelWord(shown.input) != LevelWord::fine) return {};
            return Page{.number = number, .wait = Seconds(10.0)};
        // Who has only waited may not have read it: it is shown again at the next start.
        case StartStep::care: return Page{.number = number, .wait = Seconds(30.0), .byItself = Kind::decline};
        case StartStep::strings: return Page{.number = number, .wait = Seconds(8.0)};
        case StartStep::firstDrill: return Page{.number = number, .wait = Seconds(10.0)};
    }
    return {};
}

std::optional<Page> pageOf(const Snapshot& shown) {
    if (shown.screen == Screen::start) return startPage(shown);
    if (shown.screen == Screen::stringCheck) {
        if (shown.strings.asked != 0 || !shown.strings.question.empty()) return {};
        return Page{.number = 10, .wait = Seconds(5.0)};
    }
    if (shown.screen != Screen::practice) return {};
    const Moment moment = shown.stones ? shown.stones->moment : shown.practice.moment;
    const std::string& does = shown.stones ? shown.stones->nextDoes : shown.practice.nextDoes;
    const bool rests = moment == Moment::rest || moment == Moment::warmUp;
    if (rests && !does.empty()) return Page{.number = 11, .goesOn = Kind::next};
    // Of a drill that was played; one that is refused would lead to the next, and so on.
    if (moment == Moment::endOfDrill && (shown.stones ? !does.empty() : !shown.practice.ends.empty()))
        return Page{.number = 12, .wait = Seconds(20.0), .goesOn = Kind::next, .byItself = Kind::next};
    return {};
}

bool waits(const Page& page, GoOn how) { return page.wait && (how == GoOn::waiting || !page.hears); }

}  // namespace

std::optional<Intent> GoingOn::look(const Snapshot& shown, GoOn how, unsigned pairs, Seconds now) {
    const auto here = how == GoOn::key ? std::nullopt : pageOf(shown);
    const bool other = !here || page != here->number;
    if (other || (now - since).value < settles) pairsBefore = pairs;
    if (other) {
        page = here ? std::optional(here->number) : std::nullopt;
        since = now;
        return {};
    }
    const bool asked = how == GoOn::mutedStrokes && here->hears && pairs != pairsBefore;
    if (!asked && !(waits(*here, how) && now - since >= *here->wait)) return {};
    page.reset();
    return Intent{asked ? here->goesOn : here->byItself, shown.screen, 0};
}

std::string GoingOn::words(const Snapshot& shown, GoOn how) {
    const auto here = how == GoOn::key ? std::nullopt : pageOf(shown);
    if (!here) return {};
    if (waits(*here, how)) return "a moment";
    return how == GoOn::mutedStrokes ? "two muted strokes" : "";
}

}  // namespace landfall
