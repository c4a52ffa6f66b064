// Speaks through the system's speech service (Speech Dispatcher), from a thread of its own: that service may take its
// time, hang, or not be there, and nobody waits for it. Any thread.
#pragma once

#include <memory>
#include <string>

namespace landfall {

class SpeechService {
public:
    SpeechService();
    ~SpeechService();  // what is being said may go on
    SpeechService(const SpeechService&) = delete;
    SpeechService& operator=(const SpeechService&) = delete;

    // In place of what is being said, or waits to be.
    void say(std::string words);
    void silence();
    // Why nothing is heard, in one line; empty: as far as is known it is.
    std::string trouble() const;

private:
    struct State;
    std::shared_ptr<State> state;  // the thread's too, which may outlive this
};

}  // namespace landfall
