from django.apps import AppConfig


class AccountsConfig(AppConfig):
    name = "tracker.accounts"
    label = "accounts"

    def ready(self) -> None:
        from tracker import checks  # noqa: F401  # registers them
