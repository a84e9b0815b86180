// What a shape is measured as: its size and form, and how far each point or pair departs from it.
#pragma once

#include <QLabel>
#include <QTableWidget>
#include <QWidget>

#include "measure/bundle/survey.h"
#include "measure/dimension/form_result.h"
#include "measure/dimension/quantity_text.h"

namespace desk {

/// Object names: NAME, NAME.words, NAME.departures
class ResultView : public QWidget {
  Q_OBJECT
 public:
  explicit ResultView(const QString& object_name, QWidget* parent = nullptr);

  void show_result(const measure::FormResult& result, measure::LengthUnit length,
                   measure::TextUnit unit);
  /// In place of a result; empty: nothing is shown.
  void say(const QString& sentence);
  [[nodiscard]] QString words() const { return words_->text(); }
  [[nodiscard]] QTableWidget* departures() const { return departures_; }

 private:
  void show_points(const measure::FormResult& result, measure::LengthUnit length,
                   measure::TextUnit unit);
  void show_pairs(const measure::FormResult& result, measure::LengthUnit length,
                  measure::TextUnit unit);

  QLabel* words_;
  QTableWidget* departures_;
};

}  // namespace desk
