// A line's picture is well-formed and shows what was played. Read back with pugixml.
#include <doctest/doctest.h>

#include <pugixml.hpp>

#include <algorithm>
#include <set>
#include <string>

#include "src/formats/line_svg.h"
#include "src/practice/line_listener.h"
#include "tests/support/played_line.h"

using namespace landfall;

namespace {

std::string picture(Line line, const std::vector<HowPlayed>& how) {
    LineListener listener(line, 48000.0, standardA4);
    std::vector<float> sound(24000);
    const auto played = playedLine(line, 100.0, how, 1.0);
    sound.insert(sound.end(), played.begin(), played.end());
    listener.process(sound);
    listener.finish();
    const LineMarks marks = listener.marks();
    const auto traces = listener.traces();
    return lineAsSvg(line, marks, traces, wordsOf(line, marks, Cents(25.0), 100.0), Cents(25.0));
}

struct Read {
    std::multiset<std::string> texts;
    std::multiset<std::string> fills;  // of shapes that are no lines
};

Read read(const std::string& svg) {
    pugi::xml_document document;
    REQUIRE(document.load_string(svg.c_str(), pugi::parse_full));
    const auto root = document.document_element();
    REQUIRE(std::string(root.name()) == "svg");
    CHECK(std::string(root.attribute("xmlns").value()) == "http://www.w3.org/2000/svg");
    const double width = root.attribute("width").as_double(), height = root.attribute("height").as_double();
    Read read;
    for (const auto& node : document.select_nodes("//*")) {
        const auto element = node.node();
        // Nothing outside is needed, nothing runs.
        CHECK_FALSE(element.attribute("href"));
        CHECK(std::string(element.name()) != "script");
        if (std::string(element.name()) == "text") read.texts.insert(element.text().get());
        if (std::string(element.name()) == "path") read.fills.insert(element.attribute("fill").value());
        for (const char* at : {"x", "y"})
            if (element.attribute(at)) {
                CHECK(element.attribute(at).as_double() >= 0.0);
                CHECK(element.attribute(at).as_double() <= (*at == 'x' ? width : height));
            }
    }
    return read;
}

}  // namespace

TEST_CASE("the picture of a line names title, what to mend first, each move's figure, and marks under and over apart") {
    const Read shown = read(
        picture(shortLine(), {{.cents = -31.0}, {}, {.played = false}, {}, {.cents = 200.0}, {.cents = 33.0}, {}, {}}));
    for (const char* words : {"Up the back stairs", "Bar 2, beat 1: G4 in place of the F4", "−31", "G4", "+33",
                              "Bar 1, beat 3: the E4 was not played"})
        CHECK_MESSAGE(shown.texts.contains(words), std::string(words));
    const auto begins = [](const std::string& text) { return text.starts_with("6 of 8 landed"); };
    CHECK(std::ranges::any_of(shown.texts, begins));
    CHECK(shown.fills.count("#0072b2") == 1);  // a triangle down: under
    CHECK(shown.fills.count("#d55e00") == 2);  // up: over, and the wrong note
    CHECK(read(picture(shortLine(), {})).texts.contains("All of it, every bend within 25 cents"));
}

TEST_CASE("a title that would steer a reader of XML is text") {
    Line line = shortLine();
    line.title = "<script>\"&\x01</svg>";
    CHECK(read(picture(line, {})).texts.contains("<script>\"&?</svg>"));
}
