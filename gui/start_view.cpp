#include <algorithm>
#include <array>
#include <cmath>
#include <string>

#include "gui/screen_view.h"
#include "gui/views.h"
#include "gui/words.h"
#include "src/practice/string_check.h"

namespace landfall {

namespace {

using Kind = Intent::Kind;

constexpr std::array stepNames{"input", "level", "care", "strings", "first drill"};

// Where the body of a start page begins and ends, below its big line and sentence.
struct Page {
    PracticeLayout layout;
    Box body;
};
Page pageOf(const Canvas& canvas) {
    const PracticeLayout layout = practiceLayout(canvas);
    const float top = layout.sentence.bottom() + canvas.unit(3);
    return {layout, {layout.big.x, top, layout.big.width, layout.keys.y - canvas.unit(2) - top}};
}

void say(Canvas& canvas, const PracticeLayout& layout, const std::string& big, const std::string& sentence) {
    canvas.text(layout.big.x, layout.big.y, big, TextSize::big, Ink::full, layout.big.width);
    canvas.paragraph(layout.sentence.x, layout.sentence.y, sentence, TextSize::medium, Ink::full, layout.sentence.width,
                     sentenceLinesUsual);
}

// The steps stand as words in a row at the header's right, the present one underlined: where input and level stand on
// the other screens.
void drawSteps(Canvas& canvas, StartStep step, const Box& header) {
    float x = header.right();
    const float y = header.y + 0.2f * canvas.lineHeight(TextSize::medium);
    for (std::size_t i = stepNames.size(); i-- > 0;) {
        const bool now = i == static_cast<std::size_t>(step);
        const Box word =
            canvas.text(x, y, stepNames[i], TextSize::small, now ? Ink::full : Ink::quiet, 0.0f, Side::right);
        if (now) canvas.fill({word.x, y + 1.15f * word.height, word.width, canvas.unit(0.375)}, canvas.colours.ink);
        x = word.x - canvas.unit(3);
    }
}

Intents drawInputs(Canvas& canvas, const Start& start, Box body) {
    Intents intents;
    body.height -= canvas.lineHeight(TextSize::small);  // for what follows
    const float line = canvas.lineHeight(TextSize::medium), height = line + canvas.unit(2);
    const int count = static_cast<int>(start.inputs.size());
    const Visible shown = visible(count, start.selected, height, body);
    for (int i = shown.first; i < shown.first + shown.count; ++i) {
        const InputChoice& input = start.inputs[static_cast<std::size_t>(i)];
        const Box row{body.x, body.y + static_cast<float>(i - shown.first) * height, body.width, height};
        if (i == start.selected) drawChosen(canvas, row);
        canvas.text(row.x + canvas.unit(2), row.y + canvas.unit(1), input.name, TextSize::medium, Ink::full,
                    0.6f * row.width);
        drawLevel(canvas, {input.name, input.level, false},
                  {row.x + 0.66f * row.width, row.y + 0.5f * height - canvas.unit(0.75), 0.32f * row.width,
                   canvas.unit(1.5)});
        if (canvas.clicked(row)) intents.push_back({Intent::Kind::pick, Screen::start, i});
    }
    drawMore(canvas, shown, count, body);
    return intents;
}

// As the big line says it.
bool inTune(const StringReading& reading) {
    return reading.offset && std::abs(reading.offset->value) <= StringCheck::inTuneCents;
}

std::string offsetWords(const StringReading& reading) {
    if (reading.skipped) return "left as it is";
    if (!reading.offset) return "";
    if (inTune(reading)) return "in tune";
    return std::to_string(std::lround(std::abs(reading.offset->value)))
           + (reading.offset->value < 0.0 ? " under" : " over");
}

// The strings before any was played.
Strings unread(const Neck& neck) {
    Strings strings;
    for (const std::string& name : neck.stringNames)
        strings.readings.push_back({name + " string", std::nullopt, false});
    return strings;
}

// As the sweep shows a try: height is cents from one target line, with what counts as in tune hatched; a place across
// for each string, its name and its words below.
void drawReadings(Canvas& canvas, const Strings& strings, const Box& body) {
    const float gutter = labelGutter(canvas), small = canvas.lineHeight(TextSize::small);
    const float captions = canvas.lineHeight(TextSize::medium) + small;
    const Box box{body.x + gutter, body.y, body.width - gutter, body.height - captions - canvas.unit(1)};
    canvas.panel(box);
    SweepScale scale = sweepScale(box, Cents(StringCheck::inTuneCents), {{}}, Seconds(1.0));
    const float middle = scale.y(Cents(0.0)), top = scale.y(Cents(StringCheck::inTuneCents)),
                bottom = scale.y(Cents(-StringCheck::inTuneCents));
    drawAim(canvas, {box.x, top, box.width, bottom - top});
    canvas.line(box.x, middle, box.right(), middle, canvas.colours.quiet, canvas.unit(0.25));
    canvas.text(box.x - canvas.unit(1.5), middle - 0.5f * small, "target", TextSize::small, Ink::full, 0.0f,
                Side::right);
    canvas.text(box.x + canvas.unit(1), box.y + canvas.unit(0.5), "over", TextSize::small, Ink::quiet);
    canvas.text(box.x + canvas.unit(1), box.bottom() - small, "under", TextSize::small, Ink::quiet);

    // The lowest string stands at the left, as notes rise to the right.
    const auto count = static_cast<float>(std::max<std::size_t>(strings.readings.size(), 1));
    const float wide = box.width / count, room = wide - canvas.unit(1);
    // All names in one size.
    const bool fits = std::all_of(strings.readings.begin(), strings.readings.end(), [&](const StringReading& each) {
        return canvas.textWidth(each.name, TextSize::medium) <= room;
    });
    const TextSize named = fits ? TextSize::medium : TextSize::small;
    for (std::size_t i = 0; i < strings.readings.size(); ++i) {
        const StringReading& reading = strings.readings[i];
        const float x = box.right() - (static_cast<float>(i) + 0.5f) * wide;
        const bool asked = strings.asked == static_cast<int>(i) + 1;
        if (asked) canvas.fill({x - 0.5f * room, box.bottom(), room, canvas.unit(0.5)}, canvas.colours.ink);
        if (reading.offset && !reading.skipped) {
            const Shape shape = inTune(reading)               ? Shape::inside
                                : reading.offset->value < 0.0 ? Shape::under
                                                              : Shape::over;
            canvas.mark(shape, x, scale.y(*reading.offset), canvas.unit(1.5));
        }
        const float y = box.bottom() + canvas.unit(1);
        canvas.text(x, y, reading.name, named, asked ? Ink::full : Ink::quiet, room, Side::centre);
        canvas.text(x, y + canvas.lineHeight(named), offsetWords(reading), TextSize::small, Ink::full, room,
                    Side::centre);
    }
}

Intents drawDeviceStep(Canvas& canvas, const Start& start, const Page& page) {
    if (start.inputs.empty() && start.looking) say(canvas, page.layout, "Looking for inputs", "This takes a moment.");
    else if (start.inputs.empty())
        say(canvas, page.layout, "No sound input",
            (start.trouble.empty() ? "Plug in an interface and it appears here by itself. "
                                   : capitalised(start.trouble) + ". ")
                + "Or press enter to watch a simulated player: nothing of it goes into your log.");
    else if (start.moves)
        say(canvas, page.layout, "Guitar found", "If that was your string, press enter. ↑ ↓ choose another input.");
    else
        say(canvas, page.layout, "Play a string",
            "The bar that moves is your guitar. Enter uses it, ↑ ↓ choose another.");
    return drawInputs(canvas, start, page.body);
}

void drawLevelStep(Canvas& canvas, const Input& input, const Page& page) {
    const LevelWord word = levelWord(input);
    say(canvas, page.layout,
        word == LevelWord::clipping   ? "Clipping"
        : word == LevelWord::fine     ? "Level fine"
        : word == LevelWord::tooQuiet ? "Too quiet"
                                      : "No signal",
        word == LevelWord::clipping
            ? "Turn down the input gain on your interface until hard strokes stay left of the last notch."
        : word == LevelWord::fine
            ? "Play as hard as you ever will, then press enter."
            : troubleWords({word == LevelWord::none ? Trouble::noSignal : Trouble::tooQuiet, ""}).remedy);
    // As large as the page: it is read while both hands play.
    const float small = canvas.lineHeight(TextSize::medium);
    const float tall = std::max(canvas.unit(5), 0.3f * (page.body.height - small));
    drawLevel(canvas, input, {page.body.x, page.body.y + canvas.unit(2), page.body.width, tall});
    const float y = page.body.y + tall + canvas.unit(3.5);
    const float room = 0.3f * page.body.width;
    canvas.text(page.body.x, y, "too quiet", TextSize::medium, Ink::quiet, room);
    canvas.text(page.body.x + page.body.width * 0.64f, y, "fine", TextSize::medium, Ink::quiet, room, Side::centre);
    canvas.text(page.body.right(), y, "clipping", TextSize::medium, Ink::quiet, room, Side::right);
}

void drawCareStep(Canvas& canvas, const Page& page) {
    const char* asks = "Please read this, then press enter. It is not medical advice.";
    say(canvas, page.layout, "Before you bend", asks);
    const Box& sentence = page.layout.sentence;
    const float top = sentence.y + canvas.paragraphHeight(asks, TextSize::medium, sentence.width) + canvas.unit(5);
    const float room = page.body.bottom() - top;
    struct Line {
        const char *of, *says;
    };
    constexpr std::array lines{
        Line{"Hands", "Start gently, take every rest, and stop if anything hurts. If the pain stays, see a doctor."},
        Line{"Eyes", "A string that is bent hard can snap. Keep your face away."},
        Line{"Ears", "Start with the volume low."},
        Line{"Electricity", "If the strings tingle, unplug at once and have it checked."}};
    // All in one size, the one in which they fit, spread over the page.
    float left = 0.0f, tall = 0.0f;
    const auto measure = [&](TextSize type) {
        left = tall = 0.0f;
        for (const Line& line : lines) left = std::max(left, canvas.textWidth(line.of, type) + canvas.unit(4));
        for (const Line& line : lines) tall += canvas.paragraphHeight(line.says, type, page.body.width - left);
    };
    TextSize type = TextSize::medium;
    measure(type);
    if (tall + canvas.unit(2) > room) measure(type = TextSize::small);
    const float gap = std::clamp((room - tall) / 4.0f, canvas.unit(0.5), canvas.unit(5));
    float y = top;
    for (const Line& line : lines) {
        canvas.text(page.body.x, y, line.of, type, Ink::quiet);
        y = canvas.paragraph(page.body.x + left, y, line.says, type, Ink::full, page.body.width - left, 3).bottom()
            + gap;
    }
}

// Where it begins, and what its marks will mean.
void drawFirstDrill(Canvas& canvas, const Start& start, const Box& body) {
    const float line = canvas.lineHeight(TextSize::small);
    const Box said =
        canvas.paragraph(body.x, body.y,
                         "Marks are in cents: 100 cents are one fret. What lies within your aim, the hatched "
                         "band around the target, counts as good.",
                         TextSize::medium, Ink::full, body.width, 3);
    const float top = said.bottom() + canvas.unit(3);
    if (start.neck.place)
        drawNeck(canvas, start.neck, {body.x, top, body.width, std::min(body.bottom() - top, canvas.unit(34) + line)});
}

}  // namespace

Intents drawStart(Canvas& canvas, const Snapshot& snapshot) {
    const Page page = pageOf(canvas);
    const Start& start = snapshot.start;
    Intents intents = drawHeader(canvas, snapshot, page.layout.header);
    drawSteps(canvas, start.step, page.layout.header);
    const auto add = [&intents](const Intents& more) { intents.insert(intents.end(), more.begin(), more.end()); };

    switch (start.step) {
        case StartStep::device: add(drawDeviceStep(canvas, start, page)); break;
        case StartStep::level: drawLevelStep(canvas, snapshot.input, page); break;
        case StartStep::care: drawCareStep(canvas, page); break;
        case StartStep::strings:
            say(canvas, page.layout, "Check the strings",
                "Play each open string in turn. It takes a minute. Enter begins, backspace skips.");
            drawReadings(canvas, unread(start.neck), page.body);
            break;
        case StartStep::firstDrill:
            say(canvas, page.layout, start.firstDrill, start.firstDrillTrains);
            drawFirstDrill(canvas, start, page.body);
            break;
    }
    add(drawKeys(canvas, snapshot, page.layout.keys));
    return intents;
}

Intents drawStrings(Canvas& canvas, const Snapshot& snapshot) {
    const Page page = pageOf(canvas);
    const Strings& strings = snapshot.strings;
    Intents intents = drawHeader(canvas, snapshot, page.layout.header);
    say(canvas, page.layout, strings.prompt, strings.question.empty() ? strings.message : strings.question);

    drawReadings(canvas, strings, page.body);
    const Intents more = drawKeys(canvas, snapshot, page.layout.keys);
    intents.insert(intents.end(), more.begin(), more.end());
    return intents;
}

namespace {

Keys startKeys(const Snapshot& snapshot) {
    const bool last = snapshot.start.step == StartStep::firstDrill;
    return {.all = {enter(last ? "play it" : "go on"), backspace(last ? "another drill" : "skip"), upAndDown({}),
                    press(key::left, Kind::less, snapshot.start.back ? "back" : "")}};
}

}  // namespace

extern const ScreenView startView{.screen = Screen::start,
                                  .name = "input",
                                  .title = [](const Snapshot&) -> std::string { return "Landfall"; },
                                  .draw = drawStart,
                                  .keys = startKeys};

namespace {

Keys stringsKeys(const Snapshot& snapshot) {
    const Strings& strings = snapshot.strings;
    if (!strings.question.empty()) return {.all = {enter("yes"), backspace("no")}};
    if (strings.asked == 0) return {.all = {enter("go on"), backspace({})}};
    return {.all = {enter("end the check"), backspace("skip this string")}};
}

}  // namespace

extern const ScreenView stringsView{.screen = Screen::stringCheck,
                                    .name = "strings",
                                    .title = [](const Snapshot&) -> std::string { return "String check"; },
                                    .draw = drawStrings,
                                    .keys = stringsKeys};

}  // namespace landfall
