// What a shape is measured as: its size and form, and how far each point or pair departs from it.
#pragma once

#include <QLabel>
#include <QTableWidget>
#include <QWidget>

#include "measure/bundle/survey.h"
#include "measure/dimension/form_result.h"
#include "measure/dimension/quantity_text.h"
#include "tools/desk/fields/sentence_label.h"

namespace desk {

/// Object names: NAME, NAME.words, NAME.problem, NAME.departures
class ResultView : public QWidget {
  Q_OBJECT
 public:
  explicit ResultView(const QString& object_name, QWidget* parent = nullptr);

  void show_result(const measure::FormResult& result, measure::LengthUnit length,
                   measure::TextUnit unit);
  /// In place of a result; empty: nothing is shown.
  void say(const QString& words);
  [[nodiscard]] QString words() const { return words_->text(); }
  /// Why the shape has no place; empty where it has one.
  [[nodiscard]] QString problem() const { return problem_->sentence(); }
  [[nodiscard]] QTableWidget* departures() const { return departures_; }

 private:
  void show_points(const measure::FormResult& result, measure::LengthUnit length,
                   measure::TextUnit unit);
  void show_pairs(const measure::FormResult& result, measure::LengthUnit length,
                  measure::TextUnit unit);

  QLabel* words_;
  SentenceLabel* problem_;
  QTableWidget* departures_;
};

}  // namespace desk
