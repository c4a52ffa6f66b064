#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <fstream>
#include <iterator>
#include <set>
#include <utility>

#include "gui/views.h"
#include "gui/words.h"
#include "tests/support/invented_screens.h"

using namespace landfall;

namespace {

struct DisplaySize {
    float width, height;
};
constexpr std::array<DisplaySize, 3> displays{{{1024, 600}, {1280, 800}, {1920, 1080}}};

// A window without GLFW or OpenGL: context, font atlas and draw data.
class Display {
public:
    Display(DisplaySize given, double textSize, float factor = 1.0f)
        : context(ImGui::CreateContext()), sizes(sizesFor(given.width, given.height, textSize, factor)) {
        ImGuiIO& io = ImGui::GetIO();
        io.IniFilename = nullptr;
        io.DisplaySize = {given.width, given.height};
        io.DeltaTime = 1.0f / 60.0f;
        auto loaded = loadFonts(sizes);
        REQUIRE_MESSAGE(loaded, (loaded ? "" : loaded.error().message));
        fonts = *loaded;
        io.Fonts->SetTexID(reinterpret_cast<void*>(1));
    }
    ~Display() { ImGui::DestroyContext(context); }
    Display(const Display&) = delete;
    Display& operator=(const Display&) = delete;

    Drawn draw(const Snapshot& snapshot) {
        ImGui::NewFrame();
        Canvas canvas(snapshot.dark, sizes, fonts);
        layout = practiceLayout(canvas);
        intents = drawScreen(canvas, snapshot);
        ImGui::Render();
        return canvas.drawn();
    }

    // Of everything drawn, down to the vertex; glyphs have a pixel of air around them.
    bool insideDisplay() const {
        const ImDrawData& data = *ImGui::GetDrawData();
        for (int i = 0; i < data.CmdListsCount; ++i)
            for (const ImDrawVert& vertex : data.CmdLists[i]->VtxBuffer)
                if (vertex.pos.x < -1.0f || vertex.pos.y < -1.0f || vertex.pos.x > data.DisplaySize.x + 1.0f
                    || vertex.pos.y > data.DisplaySize.y + 1.0f)
                    return false;
        return data.CmdListsCount > 0;
    }
    // Vertices are counted in 16 bits.
    int vertices() const { return ImGui::GetDrawData()->TotalVtxCount; }

    Intents intents;
    PracticeLayout layout;

private:
    ImGuiContext* context;
    Sizes sizes;
    Fonts fonts;
};

const DrawnText* find(const Drawn& drawn, std::string_view words) {
    for (const DrawnText& text : drawn.texts)
        if (text.text.find(words) != std::string::npos) return &text;
    return nullptr;
}

bool overlap(const Box& a, const Box& b) {
    // The type's own line has air above and below the letters.
    const float air = 0.08f * std::min(a.height, b.height);
    return a.x + 1.0f < b.right() && b.x + 1.0f < a.right() && a.y + air < b.bottom() - air
           && b.y + air < a.bottom() - air;
}

}  // namespace

TEST_CASE("nothing stands outside the display and no words run over others, in any state, size or text size") {
    const auto screens = inventedScreens();
    for (const DisplaySize size : displays)
        for (const double text : {1.0, 1.25, 1.5}) {
            Display display(size, text);
            for (const auto& [name, snapshot] : screens) {
                const Drawn drawn = display.draw(snapshot);
                CAPTURE(name);
                CAPTURE(size.width);
                CAPTURE(text);
                CHECK(display.insideDisplay());
                CHECK(display.vertices() < 65536);
                for (std::size_t i = 0; i < drawn.texts.size(); ++i)
                    for (std::size_t k = i + 1; k < drawn.texts.size(); ++k) {
                        CAPTURE(drawn.texts[i].text);
                        CAPTURE(drawn.texts[k].text);
                        CHECK_FALSE(overlap(drawn.texts[i].box, drawn.texts[k].box));
                    }
            }
        }
}

TEST_CASE("no words are cut in any state: at 1280 by 800, and with large text at 1024 by 600") {
    for (const auto& [size, text] : {std::pair(displays[1], 1.0), std::pair(displays[0], 1.5)}) {
        Display display(size, text);
        for (const auto& [name, snapshot] : inventedScreens()) {
            CAPTURE(name);
            CAPTURE(size.width);
            for (const DrawnText& each : display.draw(snapshot).texts)
                CHECK_MESSAGE(!each.text.ends_with("…"), each.text);
        }
    }
}

// Capitals of the typeface against its line (ascent to descent), from the font's own tables: OS/2's sCapHeight and
// hhea's ascender and descender (OpenType specification 1.9). That line is what a type size here counts.
double capitals(const char* file) {
    std::ifstream in(file, std::ios::binary);
    const std::string font{std::istreambuf_iterator<char>(in), {}};
    const auto at = [&](std::size_t byte) { return static_cast<unsigned char>(font.at(byte)); };
    const auto u16 = [&](std::size_t byte) { return static_cast<double>(at(byte) * 256 + at(byte + 1)); };
    const auto i16 = [&](std::size_t byte) { return u16(byte) < 32768.0 ? u16(byte) : u16(byte) - 65536.0; };
    const auto table = [&](const std::string& tag) {
        for (std::size_t entry = 12; entry < 12 + 16 * static_cast<std::size_t>(u16(4)); entry += 16)
            if (font.compare(entry, 4, tag) == 0)
                return static_cast<std::size_t>(u16(entry + 8) * 65536.0 + u16(entry + 10));
        return std::size_t{0};
    };
    const std::size_t metrics = table("OS/2"), lines = table("hhea");
    return i16(metrics + 88) / (i16(lines + 4) - i16(lines + 6));
}

TEST_CASE("at two metres: sentence, counter and next place stand at least 2.5 % of the window's height") {
    const char* inter = "/usr/share/fonts/opentype/inter/Inter-Medium.otf";
    if (!std::ifstream(inter).good()) {
        MESSAGE("SKIPPED: fonts-inter is not there");
        return;
    }
    const double capital = capitals(inter);
    CHECK(capital > 0.55);
    CHECK(capital < 0.65);
    for (const DisplaySize size : {displays[1], displays[2]}) {
        Display display(size, 1.0);
        for (const auto& [name, snapshot] : inventedScreens()) {
            if (snapshot.screen != Screen::practice || snapshot.stones
                || snapshot.practice.moment == Moment::endOfDrill)
                continue;
            const Drawn drawn = display.draw(snapshot);
            CAPTURE(name);
            CAPTURE(size.height);
            const auto stopped = stoppedBy(snapshot);
            const std::string sentence = stopped ? stopped->rest : snapshot.practice.sentence;
            const bool knows = !snapshot.notices.empty() && !stopped;  // what is to be known has the counter's place
            for (const std::string& words : {sentence, knows ? "" : snapshot.practice.progress}) {
                const DrawnText* text = find(drawn, words);
                REQUIRE(text);
                if (!words.empty()) CHECK(capital * text->size >= 0.025 * size.height);
            }
        }
    }
}

TEST_CASE("what is cut is recorded as it is shown") {
    Display display(displays[1], 1.0);
    Snapshot s = inventedScreens()["drills"];
    s.drills.rows[0].name = std::string(400, 'm');
    const Drawn drawn = display.draw(s);
    CHECK(find(drawn, "mm…"));
    CHECK_FALSE(find(drawn, s.drills.rows[0].name));
}

TEST_CASE("the grounds of sweep, scatter and bars lie inside the display, and those of one screen beside each other") {
    const auto screens = inventedScreens();
    for (const DisplaySize size : displays) {
        Display display(size, 1.5);
        for (const auto& [name, snapshot] : screens) {
            CAPTURE(name);
            const Drawn drawn = display.draw(snapshot);
            for (const Box& panel : drawn.panels) {
                CHECK(panel.x >= 0.0f);
                CHECK(panel.y >= 0.0f);
                CHECK(panel.right() <= size.width);
                CHECK(panel.bottom() <= size.height);
                CHECK(panel.width > 0.0f);
                for (const Box& other : drawn.panels)
                    if (&other != &panel) CHECK_FALSE(overlap(panel, other));
            }
        }
    }
}

TEST_CASE("a rest is told by a bar beside its word, without a digit") {
    Display display(displays[1], 1.0);
    Snapshot s = inventedScreens()["practice-rest"];
    const Drawn drawn = display.draw(s);
    const DrawnText* word = find(drawn, "Rest");
    REQUIRE(word);
    const auto bar = std::find_if(drawn.panels.begin(), drawn.panels.end(), [&](const Box& panel) {
        return panel.y > word->box.y && panel.bottom() < word->box.bottom();
    });
    REQUIRE(bar != drawn.panels.end());
    CHECK(bar->x > word->box.right());
    s.practice.restLeft = Seconds(5.0);
    const Drawn later = display.draw(s);
    REQUIRE(later.texts.size() == drawn.texts.size());
    for (std::size_t i = 0; i < drawn.texts.size(); ++i) CHECK(later.texts[i].text == drawn.texts[i].text);
}

TEST_CASE(
    "before the first drill the neck shows where it is played, and before the string check every string is named") {
    Display display(displays[1], 1.0);
    const auto screens = inventedScreens();
    const Drawn first = display.draw(screens.at("start-5-first-drill"));
    REQUIRE(first.marks.size() == 1);
    CHECK(first.marks.front().shape == Shape::disc);
    CHECK(find(first, "B"));
    Snapshot otherDrill = screens.at("start-5-first-drill");  // of the drill that was loaded last
    otherDrill.practice.neck.place = NeckPlace{6, 15};
    CHECK(display.draw(otherDrill).marks.front().y == first.marks.front().y);
    const Drawn strings = display.draw(screens.at("start-4-strings"));
    for (const char* name : {"B string", "G string", "low E string"}) CHECK(find(strings, name));
}

TEST_CASE("a display of twice the pixels shows the same screen with everything twice as large") {
    const auto screens = inventedScreens();
    const Snapshot& snapshot = screens.at("practice-landed");
    Display plain(displays[1], 1.0);
    const Drawn small = plain.draw(snapshot);
    Display fine({2560, 1600}, 1.0, 2.0f);
    const Drawn large = fine.draw(snapshot);
    CHECK(fine.insideDisplay());
    REQUIRE(large.texts.size() == small.texts.size());
    for (std::size_t i = 0; i < small.texts.size(); ++i) {
        CAPTURE(small.texts[i].text);
        CHECK(large.texts[i].text == small.texts[i].text);
        CHECK(large.texts[i].size == 2.0f * small.texts[i].size);
        // Lines stand on whole pixels.
        CHECK(std::abs(large.texts[i].box.y - 2.0f * small.texts[i].box.y) <= 1.0f);
    }
    REQUIRE(large.marks.size() == small.marks.size());
    for (std::size_t i = 0; i < small.marks.size(); ++i)
        CHECK(large.marks[i].radius == doctest::Approx(2.0f * small.marks[i].radius));
}

TEST_CASE("nothing is cut off or runs over others on a display with its own factor") {
    const auto screens = inventedScreens();
    struct Scaled {
        DisplaySize pixels;
        float factor;
    };
    for (const Scaled scaled : {Scaled{{1280, 750}, 1.25f}, Scaled{{1920, 1200}, 1.5f}, Scaled{{3840, 2160}, 2.0f}})
        for (const double text : {1.0, 1.5}) {
            Display display(scaled.pixels, text, scaled.factor);
            for (const auto& [name, snapshot] : screens) {
                const Drawn drawn = display.draw(snapshot);
                CAPTURE(name);
                CAPTURE(scaled.factor);
                CAPTURE(text);
                CHECK(display.insideDisplay());
                for (std::size_t i = 0; i < drawn.texts.size(); ++i)
                    for (std::size_t k = i + 1; k < drawn.texts.size(); ++k) {
                        CAPTURE(drawn.texts[i].text);
                        CAPTURE(drawn.texts[k].text);
                        CHECK_FALSE(overlap(drawn.texts[i].box, drawn.texts[k].box));
                    }
            }
        }
}

TEST_CASE("no screen is blank: each says at least what it is and what the keys do") {
    Display display(displays[1], 1.0);
    for (const auto& [name, snapshot] : inventedScreens()) {
        CAPTURE(name);
        const Drawn drawn = display.draw(snapshot);
        CHECK(drawn.texts.size() >= 4);
        CHECK((find(drawn, "enter") || find(drawn, "space") || find(drawn, "esc") || find(drawn, "← →")));
    }
}

TEST_CASE("each moment of practice has its one big line, at least 64 pixels high at 1280 by 800") {
    Display display(displays[1], 1.0);
    const auto screens = inventedScreens();
    const auto bigLine = [&](const std::string& name) {
        const Drawn drawn = display.draw(screens.at(name));
        const auto big = std::max_element(drawn.texts.begin(), drawn.texts.end(),
                                          [](const auto& a, const auto& b) { return a.size < b.size; });
        CHECK_MESSAGE(big->size >= 64.0f, name);
        return big->text;
    };
    CHECK(bigLine("practice-waiting") == "G string · fret 9 · full step");
    CHECK(bigLine("practice-playing") == "G string · fret 9 · full step");
    CHECK(bigLine("practice-landed") == "28 under");
    CHECK(bigLine("practice-between") == "+38");
    CHECK(bigLine("practice-rest") == "Rest");
    CHECK(bigLine("practice-warm-up") == "Warm up");
    CHECK(bigLine("practice-end") == "Usually 14 cents off, mostly low");
    CHECK(bigLine("practice-pre-bend") == "B string · fret 10 · pre-bend full step, release");
    CHECK(bigLine("strings-offer") == "Half step down?");
    CHECK(bigLine("trouble-no-signal") == "No signal");
    CHECK(bigLine("trouble-device-lost") == "Input unplugged");
}

TEST_CASE(
    "a line's stones stand in reading order, in rows that wrap, each with its caption, and the next one is framed") {
    Display display(displays[1], 1.0);
    Snapshot s = inventedScreens().at("line-playing");
    const Drawn drawn = display.draw(s);
    // Its sweep is a panel of its own.
    REQUIRE(drawn.panels.size() == 31);
    std::size_t rows = 1;
    for (std::size_t i = 1; i < drawn.panels.size(); ++i) {
        const Box &before = drawn.panels[i - 1], &now = drawn.panels[i];
        CHECK(now.width == before.width);
        CHECK(now.height == before.height);
        if (now.y == before.y) {
            CHECK(now.x > before.right());
        } else {
            ++rows;
            CHECK(now.x == drawn.panels.front().x);
            CHECK(now.y > before.bottom());
        }
    }
    CHECK(rows > 1);
    CHECK(rows < 6);
    CHECK(find(drawn, "Bar 2, beat 3: full step, B string, fret 8"));
    CHECK(find(drawn, "full step"));
    const int framed = display.vertices();
    s.stones->next.reset();
    display.draw(s);
    CHECK(display.vertices() < framed);
}

TEST_CASE("a stone's mark stands as high as the practice screen's would: under below the target, over above it") {
    Display display(displays[2], 1.0);
    const Snapshot s = inventedScreens().at("line-pass-over");
    const Drawn drawn = display.draw(s);
    REQUIRE(drawn.marks.size() == s.stones->stones.size());
    for (std::size_t i = 0; i < drawn.marks.size(); ++i) {
        CAPTURE(i);
        const Stone& stone = s.stones->stones[i];
        const TryMark& mark = stone.trace.marks.front();
        const Box& box = drawn.panels[i];
        const SweepScale scale = sweepScale(box, s.stones->aim, {stone.step}, stone.length);
        const float middle = box.y + 0.5f * box.height;
        CHECK(drawn.marks[i].shape == shapeOf(mark));
        if (!mark.firstStop) {
            CHECK(drawn.marks[i].shape == Shape::lost);
            continue;
        }
        CHECK(std::abs(drawn.marks[i].y - scale.y(*mark.firstStop)) < 0.5f);
        if (mark.firstStop->value < 0.0) CHECK(drawn.marks[i].y > middle);
        if (mark.firstStop->value > 0.0) CHECK(drawn.marks[i].y < middle);
    }
}

TEST_CASE("the sentence and the numbers of a line can be read from two metres away") {
    for (const DisplaySize size : displays) {
        Display display(size, 1.0);
        for (const char* name : {"line-first-look", "line-playing", "line-pass-over", "line-part"}) {
            CAPTURE(name);
            CAPTURE(size.height);
            const Snapshot s = inventedScreens().at(name);
            const Drawn drawn = display.draw(s);
            // Inter's capitals are 0.727 of its type's height (its own metrics); 2.5 % of 0.34 m of picture are 8.5 mm,
            // 15 minutes of arc at two metres, three times what an eye with 20/20 reads.
            const auto tall = [&](const DrawnText& text) { return 0.727f * text.size >= 0.025f * size.height; };
            for (const DrawnText& text : drawn.texts) {
                const bool number =
                    std::any_of(s.stones->stones.begin(), s.stones->stones.end(), [&](const Stone& stone) {
                        return stone.number == text.text && text.box.y > drawn.panels.front().y;
                    });
                CAPTURE(text.text);
                if (number || text.text == s.stones->big || text.text == s.stones->sentence) CHECK(tall(text));
            }
        }
    }
}

TEST_CASE("of a line with more moves than fit the rows about the next one are shown") {
    Display display(displays[0], 1.0);
    const Snapshot s = inventedScreens().at("line-long");
    const Drawn drawn = display.draw(s);
    CHECK(drawn.panels.size() < 140);
    CHECK(drawn.panels.size() > 20);
    Snapshot other = s;
    other.stones->next = 91;
    const Drawn later = display.draw(other);
    CHECK(later.panels.size() == drawn.panels.size());
}

TEST_CASE("enter loops what failed, space goes back to the start, and what stops practice has the big line") {
    const auto screens = inventedScreens();
    const Snapshot& over = screens.at("line-pass-over");
    const auto kind = [&](int code) { return intentsForKey(over, code).at(0).kind; };
    CHECK(kind(key::enter) == Intent::Kind::next);
    CHECK(kind(key::space) == Intent::Kind::again);
    CHECK(kind(key::backspace) == Intent::Kind::discard);
    Display display(displays[1], 1.0);
    CHECK(find(display.draw(over), "only what failed"));
    CHECK_FALSE(find(display.draw(screens.at("line-playing")), "only what failed"));
    CHECK(find(display.draw(screens.at("line-no-signal")), "No signal"));
}

TEST_CASE("the key line says what the key for next does at this moment") {
    Display display(displays[1], 1.0);
    const auto screens = inventedScreens();
    for (const auto& [name, does] :
         {std::pair("practice-waiting", "next set"), std::pair("practice-warm-up", "start now"),
          std::pair("practice-rest", "skip the rest"), std::pair("trouble-string-slipped", "go on as it is"),
          std::pair("practice-end", "next drill")}) {
        CAPTURE(name);
        const Drawn drawn = display.draw(screens.at(name));
        const auto shown = std::find_if(drawn.texts.begin(), drawn.texts.end(),
                                        [&](const DrawnText& each) { return each.text == does; });
        REQUIRE(shown != drawn.texts.end());
        REQUIRE(shown != drawn.texts.begin());
        CHECK(std::prev(shown)->text == "enter");  // the key stands before it
    }
    Snapshot minuteOff = screens.at("practice-rest");
    minuteOff.practice.nextDoes.clear();
    CHECK_FALSE(find(display.draw(minuteOff), "enter"));
}

TEST_CASE("the end of a drill says its rest and the next step on two lines, with no try and no key that does nothing") {
    Display display(displays[1], 1.0);
    const Snapshot s = inventedScreens()["practice-end"];
    const Drawn drawn = display.draw(s);
    const DrawnText* said = find(drawn, s.practice.sentence);
    REQUIRE(said);
    // not shrunk
    CHECK(said->size == find(display.draw(inventedScreens()["practice-waiting"]), "Bend in one movement")->size);
    CHECK(said->box.height > 1.5f * said->size);
    CHECK_FALSE(find(drawn, "see it now"));
    CHECK_FALSE(find(drawn, "try "));
}

TEST_CASE("an offer of the string check is asked once, under a short big line") {
    Display display(displays[1], 1.0);
    const Snapshot s = inventedScreens()["strings-offer"];
    const Drawn drawn = display.draw(s);
    CHECK(std::count_if(drawn.texts.begin(), drawn.texts.end(),
                        [&](const DrawnText& each) { return each.text == s.strings.question; })
          == 1);
}

TEST_CASE("a string within 5 cents is in tune in its row as in the big line, and the check is ended by enter") {
    Display display(displays[1], 1.0);
    const Drawn drawn = display.draw(inventedScreens()["strings"]);
    const DrawnText* row = find(drawn, "high E string");  // 3 under
    REQUIRE(row);
    const auto words = std::find_if(drawn.texts.begin(), drawn.texts.end(), [&](const DrawnText& each) {
        const float apart = each.box.x + 0.5f * each.box.width - row->box.x - 0.5f * row->box.width;
        return each.box.y > row->box.bottom() && std::abs(apart) < 2.0f;
    });
    REQUIRE(words != drawn.texts.end());
    CHECK(words->text == "in tune");
    CHECK(find(drawn, "end the check"));
    CHECK_FALSE(find(drawn, "go on"));
}

TEST_CASE("the string check shows height in cents against one target line, as the sweep does") {
    Display display(displays[1], 1.0);
    Snapshot s = inventedScreens()["strings"];
    s.strings.readings = {
        {"high E string", Cents(3.0), false}, {"B string", Cents(30.0), false}, {"G string", Cents(-30.0), false}};
    const Drawn drawn = display.draw(s);
    REQUIRE(drawn.marks.size() == 3);
    REQUIRE(drawn.bands.size() == 1);
    const Box& band = drawn.bands.front();
    const auto within = [&](const DrawnMark& mark) { return mark.y > band.y && mark.y < band.bottom(); };
    CHECK(within(drawn.marks[0]));
    CHECK(drawn.marks[0].shape == Shape::inside);
    CHECK(drawn.marks[1].y < band.y);
    CHECK(drawn.marks[1].shape == Shape::over);
    CHECK(drawn.marks[2].y > band.bottom());
    CHECK(drawn.marks[2].shape == Shape::under);
    // How far off a string is does not move its mark to the side.
    s.strings.readings[1].offset = Cents(-30.0);
    CHECK(display.draw(s).marks[1].x == drawn.marks[1].x);
}

TEST_CASE("what a key does is done by a click on its words, too, and the wheel goes up and down a list") {
    Display display(displays[1], 1.0);
    const Snapshot s = inventedScreens()["drills"];
    const DrawnText play = *find(display.draw(s), "play");
    ImGuiIO& io = ImGui::GetIO();
    io.MousePos = {play.box.x + 3.0f, play.box.y + 3.0f};
    io.MouseDown[0] = true;
    display.draw(s);
    REQUIRE_FALSE(display.intents.empty());
    CHECK(display.intents.back().kind == Intent::Kind::choose);
    CHECK(intentsForWheel(s, -1.0).front().kind == Intent::Kind::following);
    CHECK(intentsForWheel(s, 1.0).front().kind == Intent::Kind::previous);
    // While playing there is no list, and nothing is asked for by chance.
    CHECK(intentsForWheel(inventedPractice(), 1.0).empty());
    CHECK(intentsForWheel(s, 0.0).empty());
}

namespace {

// What a click asks for, a few pixels inside the words' left or right end.
std::vector<Intent::Kind> clicked(const Snapshot& shown, const std::string& words, bool right,
                                  DisplaySize size = displays[1], double textSize = 1.0) {
    Display display(size, textSize);
    const Drawn drawn = display.draw(shown);
    const auto found = std::ranges::find(drawn.texts, words, &DrawnText::text);
    REQUIRE_MESSAGE(found != drawn.texts.end(), words);
    const DrawnText& at = *found;
    ImGuiIO& io = ImGui::GetIO();
    io.MousePos = {right ? at.box.right() - 3.0f : at.box.x + 3.0f, at.box.y + 0.5f * at.box.height};
    io.MouseDown[0] = true;
    display.draw(shown);
    std::vector<Intent::Kind> kinds;
    for (const Intent& intent : display.intents) kinds.push_back(intent.kind);
    return kinds;
}

}  // namespace

TEST_CASE("whatever keys do on a list a mouse does: both arrows of a value, both keys of a pair, filters, screens") {
    using Kinds = std::vector<Intent::Kind>;
    using Kind = Intent::Kind;
    const auto screens = inventedScreens();
    CHECK(clicked(screens.at("settings"), "← ±25 ¢ →", false) == Kinds{Kind::less});
    CHECK(clicked(screens.at("settings"), "← ±25 ¢ →", true) == Kinds{Kind::more});
    CHECK(clicked(screens.at("settings"), "concert pitch", false) == Kinds{Kind::pick});
    CHECK(clicked(screens.at("settings-folded"), "keys", false) == Kinds{Kind::pick});
    CHECK(clicked(screens.at("drills-elsewhere"), "← 5 →", true) == Kinds{Kind::more});
    CHECK(clicked(screens.at("drills"), "↑ ↓", false) == Kinds{Kind::previous});
    CHECK(clicked(screens.at("drills"), "↑ ↓", true) == Kinds{Kind::following});
    CHECK(clicked(screens.at("drills"), "← every gesture →", false) == Kinds{Kind::less});
    CHECK(clicked(screens.at("drills"), "← every gesture →", true) == Kinds{Kind::more});
    CHECK(clicked(screens.at("drills"), "every string", false) == Kinds{Kind::pick});
    CHECK(clicked(screens.at("students"), "Ines", false) == Kinds{Kind::pick});
    for (const char* words : {"23 November 18:02", "worst", "Tired, stopped after ten minutes."})
        CHECK(clicked(screens.at("students-lesson"), words, false) == Kinds{Kind::pick});
    CHECK(clicked(screens.at("students-lesson"), "a note on the lesson", false) == Kinds{Kind::note});
    CHECK(clicked(screens.at("students-lesson"), "their progress", false) == Kinds{Kind::see});
    CHECK(clicked(screens.at("progress"), "← Full step bends →", true) == Kinds{Kind::more});
    for (const char* words : {"−14  ±4", "12 ×", "lost", "38 sittings, the last on 24 November 19:10"})
        CHECK(clicked(screens.at("progress"), words, false) == Kinds{Kind::pick});
    CHECK(clicked(screens.at("progress-behind"), "dead on", false) == Kinds{Kind::pick});
    CHECK(clicked(screens.at("progress-empty"), "back to practice", false) == Kinds{Kind::open});
    // Where the screens' names do not fit their digits stand alone.
    CHECK_FALSE(find(Display(displays[0], 1.5).draw(screens.at("drills")), "3 progress"));
    CHECK(clicked(screens.at("drills"), "5", false, displays[0], 1.5) == Kinds{Kind::open});
}

TEST_CASE("the words of a column stand in one size, however large the text is") {
    for (const DisplaySize size : displays)
        for (const char* name : {"settings", "settings-last", "drills", "progress-tries", "progress-sittings"}) {
            CAPTURE(name);
            CAPTURE(size.width);
            Display display(size, 1.5);
            const Snapshot s = inventedScreens().at(name);
            const Drawn drawn = display.draw(s);
            const auto sizeOf = [&](const std::string& words) {
                const auto found = std::ranges::find(drawn.texts, words, &DrawnText::text);
                return found == drawn.texts.end() ? 0.0f : found->size;  // scrolled away
            };
            std::set<float> labels, dates, moves, trained;
            for (const SettingRow& row : s.settings.rows) labels.insert(sizeOf(row.label));
            for (const DrillRow& row : s.drills.rows) trained.insert(sizeOf(row.trains));
            for (const SittingRow& row : s.progress.sittings) dates.insert(sizeOf(row.date));
            for (const TryRow& row : s.progress.tries) moves.insert(sizeOf(row.move));
            for (std::set<float>* sizes : {&labels, &trained, &dates, &moves}) {
                sizes->erase(0.0f);
                CHECK(sizes->size() <= 1);
            }
        }
}

TEST_CASE(
    "progress: each place of the map bears its sign and its doubt, and what was played too little only how often") {
    for (const DisplaySize size : displays) {
        Display display(size, 1.0);
        const Snapshot s = inventedScreens().at("progress");
        const Drawn drawn = display.draw(s);
        for (const MapMark& mark : s.progress.overview->map) {
            CAPTURE(mark.bias);
            const bool both = find(drawn, mark.bias + "  " + mark.doubt) || find(drawn, mark.bias);
            CHECK(both);
        }
        CHECK(find(drawn, "12 ×"));
        CHECK(find(drawn, s.progress.overview->lean));
        CHECK(find(drawn, s.progress.overview->care));
        // Mirrored, fret 12 lies left of fret 5.
        const auto left = display.draw(inventedScreens().at("progress-left-handed"));
        CHECK(find(drawn, "−17  ±5")->box.x < find(drawn, "12 ×")->box.x);
        CHECK(find(left, "−17  ±5")->box.x > find(left, "12 ×")->box.x);
    }
}

TEST_CASE("no signal at the first start is no quiet signal") {
    Display display(displays[1], 1.0);
    Snapshot s = inventedScreens()["start-2-level"];
    s.input.level = Decibels(-140.0);
    const Drawn drawn = display.draw(s);
    CHECK(find(drawn, "No signal"));
    CHECK(find(drawn, troubleWords({Trouble::noSignal, ""}).remedy));
    CHECK_FALSE(find(drawn, "Turn up"));
}

TEST_CASE("a list that is scrolled says how much is above and below") {
    Display display(displays[0], 1.0);
    Snapshot s = inventedScreens()["settings-last"];
    s.settings.selected = 0;
    Drawn drawn = display.draw(s);
    CHECK(find(drawn, "more ↓"));
    CHECK_FALSE(find(drawn, "more ↑"));
    s.settings.selected = 7;
    drawn = display.draw(s);
    CHECK(find(drawn, "more ↓"));
    CHECK(find(drawn, "more ↑"));
    s.settings.selected = 21;
    drawn = display.draw(s);
    CHECK_FALSE(find(drawn, "more ↓"));
    CHECK(find(drawn, "more ↑"));
}

TEST_CASE("the key line names only keys that do something") {
    Display display(displays[1], 1.0);
    const auto screens = inventedScreens();
    const auto says = [&](const char* name, const char* words) {
        return find(display.draw(screens.at(name)), words) != nullptr;
    };
    CHECK_FALSE(says("progress-empty", "strike"));
    CHECK_FALSE(says("progress-empty", "choose"));
    CHECK(says("progress-empty", "back to practice"));
    CHECK_FALSE(says("progress-sittings", "strike"));
    CHECK(says("progress-sittings", "its tries"));
    CHECK(says("progress-tries", "drop or restore"));
    CHECK(says("progress-tries", "back"));
    CHECK(says("progress", "another kind"));
    CHECK_FALSE(says("progress-place", "another kind"));
    CHECK_FALSE(says("drills-none", "play"));
    CHECK_FALSE(says("drills-none", "elsewhere"));
    CHECK(says("settings-learning", "the key or pedal"));
    CHECK_FALSE(says("settings-learning", "choose"));
    CHECK_FALSE(says("settings-learning", "2 drills"));  // a digit is taken as the key
    CHECK(says("settings-typing", "keep"));
    CHECK_FALSE(says("settings-typing", "change"));
}

TEST_CASE("the sentence does not say the big line again") {
    Display display(displays[1], 1.0);
    const Drawn drawn = display.draw(inventedScreens()["practice-landed"]);
    CHECK(find(drawn, "About a quarter of a fret."));
    CHECK_FALSE(find(drawn, "28 under: "));
}

TEST_CASE("a warm-up says what to do, not to rest, beside the bar that shortens") {
    Display display(displays[1], 1.0);
    const Drawn drawn = display.draw(inventedScreens()["practice-warm-up"]);
    CHECK_FALSE(find(drawn, "Rest"));
    CHECK(find(drawn, "Easy fretting first, then half steps."));
    CHECK(std::any_of(drawn.panels.begin(), drawn.panels.end(),
                      [&](const Box& panel) { return panel.y < display.layout.sentence.y && panel.height > 0.0f; }));
}

TEST_CASE("while a try is played no digit moves: only the trace differs between two frames") {
    Display display(displays[1], 1.0);
    Snapshot s = inventedScreens()["practice-playing"];
    const Drawn before = display.draw(s);
    auto& points = s.practice.traces.back().points;
    for (int i = 0; i < 40; ++i) points.push_back({Seconds(points.back().sinceStroke.value + 0.005), Cents(-40.0 + i)});
    const Drawn after = display.draw(s);
    REQUIRE(before.texts.size() == after.texts.size());
    for (std::size_t i = 0; i < before.texts.size(); ++i) CHECK(before.texts[i].text == after.texts[i].text);
}

TEST_CASE("every trouble is said with its remedy; what stops practice takes the big line, the rest one line above") {
    Display display(displays[1], 1.0);
    for (const auto& [name, snapshot] : inventedScreens()) {
        if (!name.starts_with("trouble-")) continue;
        CAPTURE(name);
        const Drawn drawn = display.draw(snapshot);
        const TroubleWords words = troubleWords(snapshot.notices.front());
        REQUIRE(find(drawn, words.what));
        REQUIRE(find(drawn, words.remedy));
        // it is read from two metres, the remedy where it is done
        CHECK(find(drawn, words.what)->size > find(drawn, words.remedy)->size);
        CHECK((find(drawn, snapshot.practice.prompt) == nullptr) == stopsPractice(snapshot.notices.front().trouble));
    }
}

TEST_CASE("several troubles: one in the big line, one above, the others counted") {
    Display display(displays[1], 1.0);
    Snapshot s = inventedPractice();
    s.notices = {{Trouble::clipping, ""}, {Trouble::noSignal, ""}, {Trouble::logTrouble, ""}};
    const Drawn drawn = display.draw(s);
    CHECK(find(drawn, "No signal"));
    CHECK(find(drawn, "Clipping"));
    CHECK(find(drawn, "(and 1 more)"));
}

TEST_CASE("marks stand where the sweep's equation puts them, and their shape says over or under") {
    Display display(displays[1], 1.0);
    Snapshot s = inventedPractice();
    s.practice.traces = {inventedBend(38.0, 0.6, Verdict::over), inventedBend(-22.0, 0.9, Verdict::near)};
    s.practice.scatter.clear();
    const Drawn drawn = display.draw(s);
    REQUIRE(drawn.marks.size() == 3);  // two on the sweep, one on the neck

    const DrawnMark& over = drawn.marks[0];
    const DrawnMark& under = drawn.marks[1];
    CHECK(over.shape == Shape::over);
    CHECK(under.shape == Shape::under);
    const Box sweep = display.layout.sweep;
    const float middle = sweep.y + sweep.height / 2.0f;
    // Reach is one and a half times the start note's distance: 300 cents.
    const auto height = [&](double cents) {
        return middle - sweep.height / 2.0f * static_cast<float>(std::asinh(cents / 25.0) / std::asinh(300.0 / 25.0));
    };
    CHECK(over.y == doctest::Approx(height(38.0)).epsilon(0.001));
    CHECK(under.y == doctest::Approx(height(-22.0)).epsilon(0.001));
    CHECK(over.y < middle);
    CHECK(under.y > middle);
    // Equal times are equally far apart: 0.3 s of 3 s is a tenth of the sweep, whose right edge is the layout's.
    const float perSecond = (under.x - over.x) / 0.3f;
    CHECK(over.x + perSecond * 2.4f == doctest::Approx(sweep.right()).epsilon(0.001));
    CHECK(drawn.marks[2].shape == Shape::disc);
}

TEST_CASE(
    "a drill of two steps shows both targets with their bands, the one asked now at full strength, and each step's "
    "mark at its own") {
    const auto screens = inventedScreens();
    for (const DisplaySize size : displays)
        for (const double text : {1.0, 1.5}) {
            Display display(size, text);
            CAPTURE(size.width);
            CAPTURE(text);
            Snapshot s = screens.at("practice-two-steps");
            s.practice.traces.erase(s.practice.traces.begin(), s.practice.traces.end() - 1);
            s.practice.scatter.clear();
            const Drawn drawn = display.draw(s);
            REQUIRE(drawn.bands.size() >= 2);
            const Box &first = drawn.bands[0], &second = drawn.bands[1];
            CHECK(first.bottom() < second.y);  // the release's target lies below
            CHECK(first.height > 20.0f);       // both can be read
            CHECK(second.height > 20.0f);
            CHECK(first.height == doctest::Approx(second.height).epsilon(0.01));
            const DrawnText *one = find(drawn, "target 1"), *two = find(drawn, "target 2");
            REQUIRE(one);
            REQUIRE(two);
            CHECK(one->box.y + one->box.height / 2.0f == doctest::Approx(first.y + first.height / 2.0f).epsilon(0.02));
            CHECK(two->box.y + two->box.height / 2.0f
                  == doctest::Approx(second.y + second.height / 2.0f).epsilon(0.02));
            REQUIRE(drawn.marks.size() >= 2);
            // 22 under: inside the first band's aim of 25, below its middle
            CHECK(drawn.marks[0].shape == Shape::inside);
            CHECK(drawn.marks[0].y > first.y + first.height / 2.0f);
            CHECK(drawn.marks[0].y < first.bottom());
            CHECK(drawn.marks[1].shape == Shape::inside);
            CHECK(drawn.marks[1].y > second.y);
            CHECK(drawn.marks[1].y < second.bottom());
            CHECK(drawn.marks[1].x > drawn.marks[0].x);
            // Against the scale's equation, with two targets 200 cents apart and 120 beyond them.
            const auto f = [](double c) { return std::asinh(c / 25.0) + std::asinh((c + 200.0) / 25.0); };
            const Box sweep = display.layout.sweep;
            CHECK(drawn.marks[1].y
                  == doctest::Approx(
                         sweep.y + sweep.height * static_cast<float>((f(120.0) - f(-204.0)) / (f(120.0) - f(-320.0))))
                         .epsilon(0.001));
        }
}

TEST_CASE("between two tries the steps of each stand together, whole tries only") {
    Display display(displays[1], 1.0);
    Snapshot s = inventedScreens().at("practice-two-steps-between");
    s.practice.traces.clear();
    s.practice.scatter.clear();
    const Drawn drawn = display.draw(s);
    CHECK(find(drawn, "+14"));
    CHECK(find(drawn, "+3"));
    CHECK(find(drawn, "−22"));
    CHECK(find(drawn, "−4"));
    CHECK_FALSE(find(drawn, "−31"));
}

TEST_CASE("a try inside is a square, a lost one a cross, whatever the colour") {
    CHECK(shapeOf({Verdict::deadOn, Cents(-4.0), Seconds(0.8), 0, true}) == Shape::inside);
    CHECK(shapeOf({Verdict::near, Cents(-22.0), Seconds(0.8), 0, true}) == Shape::inside);
    CHECK(shapeOf({Verdict::near, Cents(-22.0), Seconds(0.8), 0, false}) == Shape::under);  // of a smaller aim
    CHECK(shapeOf({Verdict::over, Cents(31.0), Seconds(0.8)}) == Shape::over);
    CHECK(shapeOf({Verdict::otherInterval, Cents(-96.0), Seconds(0.8)}) == Shape::under);
    CHECK(shapeOf({Verdict::died, std::nullopt, std::nullopt}) == Shape::lost);
    CHECK(shapeOf({Verdict::twoStrings, Cents(3.0), Seconds(0.8)}) == Shape::lost);
}

TEST_CASE("by ear nothing of a try is drawn and the screen says so") {
    Display display(displays[1], 1.0);
    const Drawn drawn = display.draw(inventedScreens()["practice-by-ear"]);
    CHECK(find(drawn, "By ear"));
    CHECK(drawn.marks.size() == 1);  // the place on the neck
}

TEST_CASE("a small window folds the scatter first, then the neck") {
    const auto layoutAt = [](DisplaySize size, double text) {
        Display display(size, text);
        display.draw(inventedPractice());
        return display.layout;
    };
    CHECK(layoutAt(displays[1], 1.0).scatter);
    CHECK(layoutAt(displays[1], 1.0).neck);
    CHECK(layoutAt(displays[2], 1.5).scatter);
    CHECK_FALSE(layoutAt(displays[0], 1.0).scatter);
    CHECK(layoutAt(displays[0], 1.0).neck);
    CHECK_FALSE(layoutAt(displays[0], 1.5).scatter);
    CHECK_FALSE(layoutAt(displays[0], 1.5).neck);
    CHECK(layoutAt(displays[0], 1.5).sweep.height > 150.0f);
}

TEST_CASE("a left-handed player's neck is the mirror image") {
    Display display(displays[1], 1.0);
    Snapshot s = inventedScreens()["practice-slide-left-handed"];
    s.practice.scatter.clear();
    const Drawn left = display.draw(s);
    s.practice.neck.leftHanded = false;
    const Drawn right = display.draw(s);
    REQUIRE(left.marks.size() == 2);
    REQUIRE(right.marks.size() == 2);
    for (std::size_t i = 0; i < 2; ++i) {
        CHECK(left.marks[i].x + right.marks[i].x == doctest::Approx(1280.0).epsilon(0.001));
        CHECK(left.marks[i].y == doctest::Approx(right.marks[i].y));
    }
    // The ring, an octave up the string, is nearer to the body: right of the disc on a right-handed neck.
    CHECK(right.marks[0].shape == Shape::ring);
    CHECK(right.marks[0].x > right.marks[1].x);
}

TEST_CASE("a capo moves the place up the neck: frets count from it") {
    Display display(displays[1], 1.0);
    Snapshot s = inventedPractice();
    s.practice.traces.clear();
    s.practice.scatter.clear();
    const float without = display.draw(s).marks.front().x;
    s.practice.neck.capo = 2;
    const float with = display.draw(s).marks.front().x;
    s.practice.neck.capo = 0;
    s.practice.neck.place->fret += 2;
    CHECK(with == doctest::Approx(display.draw(s).marks.front().x));
    CHECK(with > without);
}

TEST_CASE("the signs that music and cents need are in the typeface") {
    Display display(displays[1], 1.0);
    const ImFont& font = *ImGui::GetIO().Fonts->Fonts[0];
    for (const unsigned sign : {0x266Fu, 0x266Du, 0xA2u, 0x2212u, 0xB1u, 0xB7u, 0x2192u, 0x2191u})
        CHECK_MESSAGE(font.FindGlyphNoFallback(static_cast<ImWchar>(sign)), sign);
}

TEST_CASE("a row that is clicked is picked") {
    Display display(displays[1], 1.0);
    const Snapshot drills = inventedScreens()["drills"];
    const Drawn drawn = display.draw(drills);
    CHECK(display.intents.empty());
    const DrawnText* row = find(drawn, "Twelve along");
    REQUIRE(row);
    ImGui::GetIO().MousePos = {row->box.x + 2.0f, row->box.y + 2.0f};
    ImGui::GetIO().MouseDown[0] = true;
    display.draw(drills);
    REQUIRE(display.intents.size() == 1);
    CHECK(display.intents.front().kind == Intent::Kind::pick);
    CHECK(display.intents.front().value == 3);
}

TEST_CASE("a trace of a quarter of a million points is thinned, not wrapped round the 16-bit vertex count") {
    Display display(displays[2], 1.0);
    Snapshot s = inventedPractice();
    s.practice.traces.assign(30, {});
    for (Trace& trace : s.practice.traces)
        for (int i = 0; i < 8400; ++i)
            trace.points.push_back({Seconds(3.0 * i / 8400.0), Cents(30.0 * std::sin(0.3 * i))});
    display.draw(s);
    CHECK(display.vertices() < 65536);
    CHECK(display.insideDisplay());
}
