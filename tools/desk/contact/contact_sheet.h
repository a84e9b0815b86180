// All photos of a dossier side by side: what each has, and what it lacks.
#pragma once

#include <QWidget>
#include <filesystem>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "measure/live/predict.h"

class QComboBox;
class QLabel;
class QListView;

namespace desk {

class DeskSession;
class KeyBook;
class PhotoDelegate;
class PhotoModel;
class PhotoSorter;
class PhotoStore;

class ContactSheet : public QWidget {
  Q_OBJECT
 public:
  /// Enters the dossier's photos into the store and keeps them entered. @param keys  may be null
  ContactSheet(DeskSession* session, PhotoStore* store, KeyBook* keys, QWidget* parent = nullptr);
  ~ContactSheet() override;

  [[nodiscard]] QListView* list() const { return list_; }
  [[nodiscard]] PhotoSorter* sorter() const { return sorter_; }
  /// Names as shown, first to last.
  [[nodiscard]] std::vector<std::string> shown() const;
  /// Instead of the guess from the solved geometry: whether the chosen point could be seen.
  void set_could_see(std::function<bool(const std::string& photo)> could_see);

 Q_SIGNALS:
  void photo_opened(const std::string& photo);
  /// Photographs or folders, as they were dropped.
  void files_dropped(const std::vector<std::filesystem::path>& files);

 protected:
  bool eventFilter(QObject* object, QEvent* event) override;

 private:
  void add_keys(KeyBook* keys);
  void enter_photos();
  void open_current();
  void show_chosen_photo();
  void renew();
  void write_summary();
  void set_size(int step);
  [[nodiscard]] bool could_see(const std::string& photo);

  DeskSession* session_;
  PhotoStore* store_;
  PhotoModel* model_;
  PhotoSorter* sorter_;
  PhotoDelegate* delegate_;
  QListView* list_;
  QComboBox* order_;
  QComboBox* filter_;
  QLabel* summary_;
  std::map<std::string, std::filesystem::path> entered_;
  std::function<bool(const std::string&)> could_see_;
  // Of one state of survey and dossier; made when first asked for.
  std::shared_ptr<const measure::Survey> predicted_survey_;
  std::unique_ptr<measure::Predictor> predictor_;
};

}  // namespace desk
