// What was used last stays; what was not used for longest goes when there is no more room.
#pragma once

#include <cstddef>
#include <list>
#include <map>
#include <utility>

namespace desk {

/// Values by key within a budget. Not safe for threads by itself.
template <typename Key, typename Value>
class LeastRecent {
 public:
  explicit LeastRecent(std::size_t budget_bytes) : budget_(budget_bytes) {}

  [[nodiscard]] const Value* find(const Key& key) {
    const auto at = where_.find(key);
    if (at == where_.end()) return nullptr;
    items_.splice(items_.begin(), items_, at->second);
    return &at->second->value;
  }
  /// The newest stays even where it alone is beyond the budget.
  void put(const Key& key, Value value, std::size_t bytes) {
    erase(key);
    items_.push_front({key, std::move(value), bytes});
    where_[key] = items_.begin();
    bytes_ += bytes;
    while (bytes_ > budget_ && items_.size() > 1) erase(items_.back().key);
  }
  void erase(const Key& key_or_alias) {
    const Key key = key_or_alias;  // it may live in the item
    const auto at = where_.find(key);
    if (at == where_.end()) return;
    bytes_ -= at->second->bytes;
    items_.erase(at->second);
    where_.erase(at);
  }
  template <typename Condition>
  void erase_if(const Condition& condition) {
    for (auto item = items_.begin(); item != items_.end();) {
      const auto next = std::next(item);
      if (condition(item->key)) erase(item->key);
      item = next;
    }
  }
  [[nodiscard]] std::size_t bytes() const { return bytes_; }

 private:
  struct Item {
    Key key;
    Value value;
    std::size_t bytes;
  };
  std::size_t budget_, bytes_ = 0;
  std::list<Item> items_;
  std::map<Key, typename std::list<Item>::iterator> where_;
};

}  // namespace desk
