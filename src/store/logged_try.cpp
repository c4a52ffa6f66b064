#include "src/store/logged_try.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <ctime>
#include <limits>
#include <random>
#include <sstream>
#include <type_traits>

#include <fmt/chrono.h>

#include "src/music/chord_move.h"

namespace landfall {

namespace {

template <typename T>
struct IsOptional : std::false_type {};
template <typename T>
struct IsOptional<std::optional<T>> : std::true_type {};

// The log's words. They are data: they stay as they are even where the program comes to say it differently.
constexpr std::array<std::pair<Verdict, const char*>, 10> verdictWords{{{Verdict::deadOn, "dead on"},
                                                                        {Verdict::inTune, "in tune"},
                                                                        {Verdict::near, "near"},
                                                                        {Verdict::under, "under"},
                                                                        {Verdict::over, "over"},
                                                                        {Verdict::otherInterval, "other interval"},
                                                                        {Verdict::wrongFret, "wrong fret"},
                                                                        {Verdict::died, "died"},
                                                                        {Verdict::twoStrings, "two strings rang"},
                                                                        {Verdict::notMeasurable, "not measurable"}}};
constexpr std::array<std::pair<Target, const char*>, 4> targetWords{{{Target::concert, "concert"},
                                                                     {Target::startNote, "start note"},
                                                                     {Target::ownGuitar, "own guitar"},
                                                                     {Target::just, "just"}}};
constexpr std::array<std::pair<Guess, const char*>, 3> guessWords{
    {{Guess::under, "under"}, {Guess::on, "on"}, {Guess::over, "over"}}};
constexpr std::array<std::pair<ToldWhen, const char*>, 3> toldWords{
    {{ToldWhen::live, "live"}, {ToldWhen::after, "after"}, {ToldWhen::byEar, "by ear"}}};
constexpr std::array<std::pair<StrokeKind, const char*>, 4> strokeWords{{{StrokeKind::picked, "picked"},
                                                                         {StrokeKind::goesOn, "goes on"},
                                                                         {StrokeKind::hammerOn, "hammer-on"},
                                                                         {StrokeKind::pullOff, "pull-off"}}};
const auto& wordsOf(StrokeKind) { return strokeWords; }
const auto& wordsOf(ToldWhen) { return toldWords; }
const auto& wordsOf(Guess) { return guessWords; }
const auto& wordsOf(Verdict) { return verdictWords; }
const auto& wordsOf(Target) { return targetWords; }
const std::vector<std::pair<Gesture, std::string_view>>& wordsOf(Gesture) {
    static const auto known = [] {
        std::vector<std::pair<Gesture, std::string_view>> words;
        for (const GestureKind& kind : gestureKinds()) words.emplace_back(kind.gesture, kind.name);
        return words;
    }();
    return known;
}

template <typename T>
Cell cellOf(const T& value) {
    if constexpr (IsOptional<T>::value) return value ? cellOf(*value) : Cell{};
    else if constexpr (std::is_same_v<T, bool> || std::is_same_v<T, std::string> || std::is_same_v<T, double>)
        return value;
    else if constexpr (std::is_same_v<T, int>) return static_cast<std::int64_t>(value);
    else if constexpr (std::is_same_v<T, CalendarTime>)
        return static_cast<std::int64_t>(value.time_since_epoch().count());
    else if constexpr (std::is_enum_v<T>) {
        const auto& words = wordsOf(value);
        const auto found =
            std::find_if(words.begin(), words.end(), [&](const auto& word) { return word.first == value; });
        return found == words.end() ? Cell{} : Cell(std::string(found->second));
    } else return value.value;  // a quantity of units.h
}

template <typename T>
bool readCell(const Cell& cell, T& value) {
    if constexpr (IsOptional<T>::value) {
        if (std::holds_alternative<std::monostate>(cell)) return value.reset(), true;
        return readCell(cell, value.emplace());
    } else if constexpr (std::is_same_v<T, std::string>) {
        const auto* text = std::get_if<std::string>(&cell);
        return text && (value = *text, true);
    } else if constexpr (std::is_same_v<T, bool> || std::is_same_v<T, int>) {
        const auto* number = std::get_if<std::int64_t>(&cell);
        return number && (value = static_cast<T>(*number), true);
    } else if constexpr (std::is_same_v<T, CalendarTime>) {
        const auto* number = std::get_if<std::int64_t>(&cell);
        return number && (value = CalendarTime(std::chrono::milliseconds(*number)), true);
    } else if constexpr (std::is_enum_v<T>) {
        const auto* text = std::get_if<std::string>(&cell);
        const auto& words = wordsOf(value);
        const auto found =
            std::find_if(words.begin(), words.end(), [&](const auto& word) { return text && *text == word.second; });
        return found != words.end() && (value = found->first, true);
    } else if constexpr (std::is_same_v<T, double>) {
        // SQLite keeps NaN as NULL, so that is what NULL means where a number is always there.
        if (std::holds_alternative<std::monostate>(cell)) return value = std::numeric_limits<double>::quiet_NaN(), true;
        const auto* number = std::get_if<double>(&cell);
        return number && (value = *number, true);
    } else return readCell(cell, value.value);
}

template <auto Field>
constexpr TryColumn ofTry(const char* name, const char* type, int since = 1) {
    return {name, type, since, [](const LoggedTry& t) { return cellOf(t.*Field); },
            [](LoggedTry& t, const Cell& cell) { return readCell(cell, t.*Field); }};
}

template <auto Field>
constexpr TryColumn ofLanding(const char* name, const char* type, int since = 1) {
    return {name, type, since, [](const LoggedTry& t) { return cellOf(t.landing.*Field); },
            [](LoggedTry& t, const Cell& cell) { return readCell(cell, t.landing.*Field); }};
}

template <auto Field>
constexpr TryColumn ofMove(const char* name, const char* type, int since = 1) {
    return {name, type, since, [](const LoggedTry& t) { return cellOf(t.landing.move.*Field); },
            [](LoggedTry& t, const Cell& cell) { return readCell(cell, t.landing.move.*Field); }};
}

// A field of an optional part of the try: the part exists where its columns are filled.
template <auto Part, auto Field>
Cell partCell(const auto& owner) {
    return owner.*Part ? cellOf((*(owner.*Part)).*Field) : Cell{};
}

template <auto Part, auto Field>
bool readPart(auto& owner, const Cell& cell) {
    if (std::holds_alternative<std::monostate>(cell)) return true;
    auto& part = owner.*Part;
    if (!part) part.emplace();
    return readCell(cell, (*part).*Field);
}

template <auto Field>
constexpr TryColumn ofPlace(const char* name) {
    return {name, "INTEGER", 1, [](const LoggedTry& t) { return partCell<&Move::place, Field>(t.landing.move); },
            [](LoggedTry& t, const Cell& cell) { return readPart<&Move::place, Field>(t.landing.move, cell); }};
}

template <auto Field>
constexpr TryColumn ofVibrato(const char* name) {
    return {name, "REAL", 1, [](const LoggedTry& t) { return partCell<&Landing::vibrato, Field>(t.landing); },
            [](LoggedTry& t, const Cell& cell) { return readPart<&Landing::vibrato, Field>(t.landing, cell); }};
}

// Of several strings, from low to high: gesture, notes, string, fret and fret slid to, whether it was heard, errors, sd,
// interval, pure interval, how far it was dragged, how late it was struck; "-" where there is none.
// "bend 62 64 3 7 - 1 -12.3 ...; note 67 ..."
std::string stringsText(const Landing& landing) {
    const auto word = [](const auto& value) { return value ? fmt::format("{}", *value) : std::string("-"); };
    const auto cents = [](const std::optional<Cents>& value) {
        return value ? fmt::format("{}", value->value) : std::string("-");
    };
    std::string text;
    if (landing.move.with.empty()) return text;
    const auto asked = stringsOf(landing.move);
    for (std::size_t j = 0; j < asked.size(); ++j) {
        const Move& move = asked[j];
        const StringLanding string = j < landing.strings.size() ? landing.strings[j] : StringLanding{};
        text += fmt::format("{}{} {} {} {} {} {} {} {} {} {} {} {} {} {}", text.empty() ? "" : "; ",
                            gestureName(move.gesture), move.from.value, move.to.value,
                            move.place ? std::to_string(move.place->string) : "-",
                            move.place ? std::to_string(move.place->fret) : "-", word(move.targetFret),
                            static_cast<int>(string.heard), cents(string.landingError), cents(string.firstStopError),
                            cents(string.sd), cents(string.interval), cents(string.pureInterval), cents(string.dragged),
                            string.late ? fmt::format("{}", string.late->value) : std::string("-"));
    }
    return text;
}

template <typename Number>
bool readNumber(std::istream& text, std::optional<Number>& value) {
    std::string word;
    if (!(text >> word)) return false;
    if (word == "-") return value.reset(), true;
    Number read{};
    const auto end = std::from_chars(word.data(), word.data() + word.size(), read);
    value = read;
    return end.ec == std::errc() && end.ptr == word.data() + word.size() && std::isfinite(static_cast<double>(read));
}

bool readCents(std::istream& text, std::optional<Cents>& value) {
    std::optional<double> number;
    if (!readNumber(text, number)) return false;
    value = number ? std::optional(Cents(*number)) : std::nullopt;
    return true;
}

bool readString(const std::string& text, Move& move, StringLanding& string) {
    std::istringstream words(text);
    std::string name;
    std::optional<double> from, to, late;
    std::optional<int> number, fret, heard;
    if (!(words >> name) || !readNumber(words, from) || !readNumber(words, to) || !readNumber(words, number)
        || !readNumber(words, fret) || !readNumber(words, move.targetFret) || !readNumber(words, heard)
        || !readCents(words, string.landingError) || !readCents(words, string.firstStopError)
        || !readCents(words, string.sd) || !readCents(words, string.interval) || !readCents(words, string.pureInterval)
        || !readCents(words, string.dragged))
        return false;
    if (readNumber(words, late) && late) string.late = Seconds(*late);  // came last: an older log has none
    const auto gesture = parseGesture(name);
    if (!gesture || !from || !to || !heard) return false;
    move.gesture = *gesture;
    move.from = MidiPitch(*from);
    move.to = MidiPitch(*to);
    if (number && fret) move.place = NeckPlace{*number, *fret};
    string.heard = static_cast<StringHeard>(std::clamp(*heard, 0, 2));
    return true;
}

// The string that leads is known from the move's own columns.
bool readStrings(Landing& landing, const std::string& text) {
    bool leads = false;
    std::istringstream all(text);
    for (std::string one; std::getline(all, one, ';');) {
        Move move;
        StringLanding string;
        if (!readString(one, move, string)) return false;
        landing.strings.push_back(string);
        const bool leading = !leads && move.from == landing.move.from && move.to == landing.move.to;
        leads = leads || leading;
        if (!leading) landing.move.with.push_back(std::move(move));
    }
    return landing.strings.empty() || (leads && landing.strings.size() <= mostStruckTogether);
}

// New quantities are added at the end, with the schema version that brought them.
constexpr TryColumn columns[] = {
    ofTry<&LoggedTry::number>("number", "INTEGER NOT NULL"),
    ofTry<&LoggedTry::at>("at_ms", "INTEGER NOT NULL"),
    ofTry<&LoggedTry::drill>("drill", "TEXT NOT NULL"),
    ofLanding<&Landing::moveNumber>("move", "INTEGER NOT NULL"),
    ofMove<&Move::gesture>("gesture", "TEXT NOT NULL"),
    ofMove<&Move::from>("from_midi", "REAL"),
    ofMove<&Move::to>("to_midi", "REAL"),
    ofPlace<&NeckPlace::string>("string"),
    ofPlace<&NeckPlace::fret>("fret"),
    ofMove<&Move::targetFret>("target_fret", "INTEGER"),
    ofLanding<&Landing::target>("target", "TEXT NOT NULL"),
    ofTry<&LoggedTry::aim>("aim_cents", "REAL"),
    ofTry<&LoggedTry::guided>("guided", "INTEGER NOT NULL"),
    ofTry<&LoggedTry::struck>("struck", "INTEGER NOT NULL"),
    ofLanding<&Landing::verdict>("verdict", "TEXT NOT NULL"),
    ofLanding<&Landing::sentence>("sentence", "TEXT NOT NULL"),
    ofLanding<&Landing::onset>("onset_s", "REAL"),
    ofLanding<&Landing::end>("end_s", "REAL"),
    ofLanding<&Landing::landingTime>("landing_time_s", "REAL"),
    ofLanding<&Landing::firstStopError>("first_stop_error_cents", "REAL"),
    ofLanding<&Landing::landingError>("landing_error_cents", "REAL"),
    ofLanding<&Landing::sd>("sd_cents", "REAL"),
    ofLanding<&Landing::startError>("start_error_cents", "REAL"),
    ofLanding<&Landing::riseTime>("rise_time_s", "REAL"),
    ofLanding<&Landing::correction>("correction_cents", "REAL"),
    ofLanding<&Landing::overshoot>("overshoot_cents", "REAL"),
    ofLanding<&Landing::holdSpread>("hold_spread_cents", "REAL"),
    ofLanding<&Landing::sag>("sag_cents", "REAL"),
    ofLanding<&Landing::holdLength>("hold_length_s", "REAL"),
    ofLanding<&Landing::linger>("linger_s", "REAL"),
    ofLanding<&Landing::landedFret>("landed_fret", "INTEGER"),
    ofLanding<&Landing::levelKept>("level_kept_db", "REAL"),
    ofVibrato<&VibratoReading::rate>("vibrato_rate_hz"),
    ofVibrato<&VibratoReading::width>("vibrato_width_cents"),
    ofVibrato<&VibratoReading::bottom>("vibrato_bottom_cents"),
    ofVibrato<&VibratoReading::top>("vibrato_top_cents"),
    ofVibrato<&VibratoReading::centre>("vibrato_centre_cents"),
    ofVibrato<&VibratoReading::evenness>("vibrato_evenness"),
    ofTry<&LoggedTry::takeFile>("take_file", "TEXT NOT NULL"),
    ofTry<&LoggedTry::guess>("guess", "TEXT", 3),
    ofTry<&LoggedTry::told>("told", "TEXT", 4),
    ofTry<&LoggedTry::pass>("pass", "INTEGER", 4),
    ofTry<&LoggedTry::targetCents>("target_cents", "REAL", 4),
    ofTry<&LoggedTry::level>("level_db", "REAL", 4),
    {"strings", "TEXT", 5,
     [](const LoggedTry& t) { return t.landing.move.with.empty() ? Cell{} : Cell(stringsText(t.landing)); },
     [](LoggedTry& t, const Cell& cell) {
         const auto* text = std::get_if<std::string>(&cell);
         return std::holds_alternative<std::monostate>(cell) || (text && readStrings(t.landing, *text));
     }},
    ofLanding<&Landing::beat>("beat_hz", "REAL", 5),
    ofTry<&LoggedTry::tempo>("quarters_a_minute", "REAL", 6),
    ofTry<&LoggedTry::askedTempo>("asked_quarters_a_minute", "REAL", 7),
    ofTry<&LoggedTry::beat>("beat_quarters", "REAL", 7),
    ofTry<&LoggedTry::timing>("timing_s", "REAL", 7),
    ofTry<&LoggedTry::stroke>("stroke", "TEXT", 7),
    ofTry<&LoggedTry::brightness>("brightness", "REAL", 8),
};

std::time_t secondsOf(CalendarTime time) {
    return std::chrono::system_clock::to_time_t(std::chrono::floor<std::chrono::seconds>(time));
}

}  // namespace

CalendarTime calendarNow() { return std::chrono::floor<std::chrono::milliseconds>(std::chrono::system_clock::now()); }

std::string utcText(CalendarTime time) {
    const auto milliseconds = (time - std::chrono::floor<std::chrono::seconds>(time)).count();
    return fmt::format("{:%Y-%m-%dT%H:%M:%S}.{:03}Z", fmt::gmtime(secondsOf(time)), milliseconds);
}

std::string localText(CalendarTime time) { return fmt::format("{:%Y-%m-%d %H:%M}", fmt::localtime(secondsOf(time))); }

std::string dayText(CalendarTime time) { return localText(time).substr(0, 10); }

std::int64_t Sitting::newToken() {
    thread_local std::random_device device;  // slow to make
    return static_cast<std::int64_t>((std::uint64_t{device()} << 32 | device()) >> 1);
}

StrokeKind strokeKind(Gesture gesture, bool picked) {
    if (picked) return StrokeKind::picked;
    return gesture == Gesture::hammerOn  ? StrokeKind::hammerOn
           : gesture == Gesture::pullOff ? StrokeKind::pullOff
                                         : StrokeKind::goesOn;
}

std::span<const TryColumn> tryColumns() { return columns; }

Table tableOf(std::span<const LoggedTry> tries) {
    Table table;
    for (const TryColumn& column : columns)
        table.columns.emplace_back(std::string_view(column.name) == "at_ms" ? "at" : column.name);
    for (const LoggedTry& one : tries) {
        auto& row = table.rows.emplace_back();
        for (const TryColumn& column : columns)
            row.push_back(std::string_view(column.name) == "at_ms" ? Cell(utcText(one.at)) : column.get(one));
    }
    return table;
}

}  // namespace landfall
