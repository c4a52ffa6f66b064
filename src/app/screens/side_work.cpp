#include "src/app/screens/side_work.h"

#include <utility>

namespace landfall {

SideWork::SideWork() : thread([this] { run(); }) {}

void SideWork::end() {
    if (!thread.joinable()) return;
    {
        const std::lock_guard lock(mutex);
        closing = true;
    }
    changed.notify_one();
    thread.join();
}

void SideWork::ask(Job job, bool mustBe) {
    {
        const std::lock_guard lock(mutex);
        asked.push_back({std::move(job), mustBe});
    }
    changed.notify_one();
}

bool SideWork::take() {
    std::deque<Answer> ready;
    {
        const std::lock_guard lock(mutex);
        ready.swap(answers);
    }
    for (const Answer& answer : ready) answer();
    return !ready.empty();
}

void SideWork::run() {
    std::unique_lock lock(mutex);
    for (;;) {
        changed.wait(lock, [this] { return closing || !asked.empty(); });
        if (asked.empty()) return;
        const Asked next = std::move(asked.front());
        asked.pop_front();
        if (closing && !next.mustBe) continue;
        lock.unlock();
        Answer answer = next.job();
        lock.lock();
        if (answer) answers.push_back(std::move(answer));
    }
}

}  // namespace landfall
