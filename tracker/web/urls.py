"""Addresses of the pages, one a line, sorted. Each has rows in tracker/routes.py."""

from django.urls import path

from tracker.web.views import (
    alternatives,
    calendars,
    confirmed,
    drafts,
    due,
    engine_forms,
    engine_types,
    engines,
    enquiries,
    fuel,
    handover,
    health,
    history_forms,
    hooks,
    judgements,
    links,
    mark_forms,
    message_forms,
    messages,
    meter_forms,
    oils,
    open_check,
    overhauls,
    owner_forms,
    owners,
    part_forms,
    preferences,
    publication_forms,
    publications,
    records,
    several,
    sheets,
    station,
    status,
    telling,
)

app_name = "web"

urlpatterns = [
    path("", due.start, name="due"),
    path("check/<slug:address>/", open_check.check, name="check"),
    path("check/<slug:address>/contact/", open_check.contact, name="check-contact"),
    path("check/<slug:address>/sent/", open_check.sent, name="check-sent"),
    path(
        "documents/<uuid:document>/", publications.document, name="publication-document"
    ),
    path(
        "documents/<uuid:document>/text/",
        publication_forms.document_text,
        name="publication-document-text",
    ),
    path(
        "drafts/<uuid:draft>/change/",
        drafts.change_draft,
        name="publication-draft-change",
    ),
    path(
        "drafts/<uuid:draft>/confirm/", drafts.confirm, name="publication-draft-confirm"
    ),
    path(
        "drafts/<uuid:draft>/discard/", drafts.discard, name="publication-draft-discard"
    ),
    path("due/", due.everything_open, name="due-open"),
    path("due/missing/", due.missing, name="due-missing"),
    path("engines/", engines.engine_list, name="engine-list"),
    path("engines/<uuid:engine>/", engines.engine, name="engine"),
    path("engines/<uuid:engine>/history/", engines.history, name="engine-history"),
    path(
        "engines/<uuid:engine>/not-applying/",
        engines.not_applying,
        name="engine-not-applying",
    ),
    path(
        "engines/<uuid:engine>/overhaul/",
        overhauls.overhaul,
        name="engine-overhaul",
    ),
    path(
        "engines/<uuid:engine>/provisions/<uuid:provision>/alternative/",
        alternatives.approve,
        name="engine-alternative",
    ),
    path(
        "engines/<uuid:engine>/provisions/<uuid:provision>/alternative/end/",
        alternatives.end,
        name="engine-alternative-end",
    ),
    path(
        "engines/<uuid:engine>/provisions/<uuid:provision>/record/",
        records.record_provision,
        name="engine-record-done",
    ),
    path(
        "engines/<uuid:engine>/publications/<uuid:publication>/adopt/",
        judgements.adopt,
        name="engine-adopt",
    ),
    path(
        "engines/<uuid:engine>/publications/<uuid:publication>/decline/",
        judgements.decline,
        name="engine-decline",
    ),
    path(
        "engines/<uuid:engine>/questions/",
        judgements.questions,
        name="engine-questions",
    ),
    path("engines/<uuid:engine>/records/", records.engine_ledger, name="engine-ledger"),
    path(
        "engines/<uuid:engine>/records/add/",
        records.record_other,
        name="engine-record-other",
    ),
    path(
        "engines/<uuid:engine>/records/past/",
        records.record_past,
        name="engine-record-past",
    ),
    path(
        "engines/<uuid:engine>/revisions/<uuid:revision>/answer/",
        judgements.answer,
        name="engine-answer",
    ),
    path("engines/<uuid:engine>/status/", status.status, name="engine-status"),
    path(
        "engines/<uuid:engine>/status.pdf", status.status_pdf, name="engine-status-pdf"
    ),
    path(
        "engines/<uuid:engine>/aircraft/status/",
        status.aircraft_status,
        name="aircraft-status",
    ),
    path(
        "engines/<uuid:engine>/aircraft/status.pdf",
        status.aircraft_status_pdf,
        name="aircraft-status-pdf",
    ),
    path("healthz", health.alive, name="alive"),
    path("owners/<uuid:owner>/status/", status.owner_status, name="owner-status"),
    path(
        "owners/<uuid:owner>/status.pdf",
        status.owner_status_pdf,
        name="owner-status-pdf",
    ),
    path("engines/add/", engine_forms.add_engine, name="engine-add"),
    path(
        "engines/<uuid:engine>/aircraft/",
        engine_forms.aircraft,
        name="engine-aircraft",
    ),
    path(
        "engines/<uuid:engine>/attributes/add/",
        mark_forms.set_attribute,
        name="engine-attribute-add",
    ),
    path(
        "engines/<uuid:engine>/events/add/",
        history_forms.add_event,
        name="engine-event-add",
    ),
    path(
        "engines/<uuid:engine>/events/<uuid:event>/withdraw/",
        history_forms.withdraw_event,
        name="engine-event-withdraw",
    ),
    path("engines/<uuid:engine>/fuel/", fuel.engine_fuel, name="engine-fuel"),
    path(
        "engines/<uuid:engine>/fuel/<uuid:fuel>/withdraw/",
        fuel.withdraw_fuel,
        name="engine-fuel-withdraw",
    ),
    path("engines/<uuid:engine>/fuel/add/", fuel.add_fuel, name="engine-fuel-add"),
    path(
        "engines/<uuid:engine>/identity/",
        engine_forms.identity,
        name="engine-identity",
    ),
    path("engines/<uuid:engine>/meter/", meter_forms.change_meter, name="engine-meter"),
    path(
        "engines/<uuid:engine>/modifications/add/",
        mark_forms.add_modification,
        name="engine-modification-add",
    ),
    path("engines/<uuid:engine>/oils/", oils.engine_oils, name="engine-oils"),
    path(
        "engines/<uuid:engine>/operation/",
        engine_forms.operation,
        name="engine-operation",
    ),
    path(
        "engines/<uuid:engine>/overhauls/<uuid:overhaul>/withdraw/",
        history_forms.withdraw_overhaul,
        name="engine-overhaul-withdraw",
    ),
    path(
        "engines/<uuid:engine>/overhauls/add/",
        history_forms.add_overhaul,
        name="engine-overhaul-add",
    ),
    path("engines/<uuid:engine>/owner/", engine_forms.transfer, name="engine-owner"),
    path(
        "engines/<uuid:engine>/parts/<uuid:known_part>/fit/",
        part_forms.take,
        name="engine-part-take",
    ),
    path(
        "engines/<uuid:engine>/parts/<uuid:part>/describe/",
        part_forms.describe,
        name="engine-part-describe",
    ),
    path(
        "engines/<uuid:engine>/parts/<uuid:part>/fitting/",
        part_forms.correct_fitting,
        name="engine-part-fitting",
    ),
    path(
        "engines/<uuid:engine>/parts/<uuid:part>/overhaul/",
        history_forms.add_part_overhaul,
        name="engine-part-overhaul",
    ),
    path(
        "engines/<uuid:engine>/parts/<uuid:part>/remove/",
        part_forms.remove,
        name="engine-part-remove",
    ),
    path(
        "engines/<uuid:engine>/parts/<uuid:part>/replace/",
        part_forms.replace,
        name="engine-part-replace",
    ),
    path(
        "engines/<uuid:engine>/parts/add/", part_forms.fit_new, name="engine-part-add"
    ),
    path("engines/<uuid:engine>/parts/find/", part_forms.find, name="engine-part-find"),
    path(
        "engines/<uuid:engine>/readings/add/",
        meter_forms.add_reading,
        name="engine-reading-add",
    ),
    path(
        "engines/<uuid:engine>/rebuilds/add/",
        history_forms.add_rebuild,
        name="engine-rebuild-add",
    ),
    path(
        "engines/<uuid:engine>/reviews/add/",
        mark_forms.review,
        name="engine-review-add",
    ),
    path(
        "engines/<uuid:engine>/reviews/lapse/",
        mark_forms.lapse_reviews,
        name="engine-review-lapse",
    ),
    path(
        "engines/<uuid:engine>/searches/add/",
        mark_forms.note_search,
        name="engine-search-add",
    ),
    path("engines/<uuid:engine>/state/", engine_forms.state, name="engine-state"),
    path(
        "engines/readings/<uuid:reading>/correct/",
        meter_forms.correct_reading,
        name="engine-reading-correct",
    ),
    path("engines/sheets/", sheets.upload, name="engine-sheets"),
    path("engines/sheets/<uuid:sheet>/", sheets.look, name="engine-sheet"),
    path("engines/sheets/<uuid:sheet>/drop/", sheets.drop, name="engine-sheet-drop"),
    path("engines/sheets/fleet/", sheets.download_fleet, name="engine-sheet-fleet"),
    path("engines/sheets/parts/", sheets.download_parts, name="engine-sheet-parts"),
    path("engines/sheets/past/", sheets.download_past, name="engine-sheet-past"),
    path("engines/types/", engine_types.type_list, name="engine-type-list"),
    path(
        "engines/types/<uuid:engine_type>/",
        engine_types.change_type,
        name="engine-type-change",
    ),
    path("engines/types/add/", engine_types.add_type, name="engine-type-add"),
    path("enquiries/", enquiries.enquiry_list, name="enquiry-list"),
    path("enquiries/<uuid:enquiry>/", enquiries.enquiry, name="enquiry"),
    path("enquiries/<uuid:enquiry>/answer/", enquiries.answer, name="enquiry-answer"),
    path("enquiries/<uuid:enquiry>/delete/", enquiries.delete, name="enquiry-delete"),
    path("messages/", messages.message_list, name="message-list"),
    path("messages/<uuid:message>/", messages.message, name="message"),
    path(
        "messages/<uuid:held_message>/release/",
        message_forms.release,
        name="message-release",
    ),
    path(
        "messages/<uuid:ended_message>/resend/",
        message_forms.resend,
        name="message-resend",
    ),
    path(
        "messages/<uuid:message>/message.eml",
        messages.message_file,
        name="message-file",
    ),
    path("owners/", owners.owner_list, name="owner-list"),
    path("owners/<uuid:owner>/", owners.owner, name="owner"),
    path("owners/<uuid:owner>/change/", owner_forms.change_owner, name="owner-change"),
    path(
        "owners/<uuid:owner>/personal-data.json",
        owner_forms.personal_data,
        name="owner-data",
    ),
    path(
        "owners/<uuid:former_owner>/remove/",
        owner_forms.remove_owner,
        name="owner-remove",
    ),
    path("owners/<uuid:owner>/silence/", preferences.silence, name="owner-silence"),
    path(
        "owners/<uuid:silenced_owner>/silence/end/",
        preferences.end_silence,
        name="owner-silence-end",
    ),
    path(
        "owners/<uuid:owner>/told/",
        preferences.preferences,
        name="owner-preferences",
    ),
    path("owners/add/", owner_forms.add_owner, name="owner-add"),
    path("publications/", publications.publication_list, name="publication-list"),
    path(
        "publications/<uuid:publication>/", publications.publication, name="publication"
    ),
    path(
        "publications/<uuid:publication>/not-affected/",
        publications.not_affected,
        name="publication-not-affected",
    ),
    path(
        "publications/<uuid:publication>/tell/",
        telling.tell,
        name="publication-tell",
    ),
    path("readyz", health.ready, name="ready"),
    path(
        "revisions/<uuid:revision>/",
        publications.revision,
        name="publication-revision",
    ),
    path(
        "provisions/<uuid:provision>/rule/",
        confirmed.change_rule,
        name="publication-rule-change",
    ),
    path(
        "publications/add/", publication_forms.add_publication, name="publication-add"
    ),
    path(
        "publications/<uuid:publication>/change/",
        publication_forms.change_publication,
        name="publication-change",
    ),
    path(
        "publications/<uuid:publication>/drafts/add/",
        drafts.add_draft,
        name="publication-draft-add",
    ),
    path("engines/<uuid:engine>/archive.zip", handover.archive, name="engine-archive"),
    path("engines/take-in/", handover.take_in, name="engine-take-in"),
    path(
        "engines/<uuid:engine>/records/several/",
        several.record_several,
        name="engine-record-several",
    ),
    path(
        "provisions/<uuid:provision>/record/",
        several.record_for_engines,
        name="publication-record",
    ),
    path("records/<uuid:record>/", records.record, name="engine-record"),
    path("files/<uuid:file>/", records.attachment, name="engine-record-file"),
    path("records/<uuid:record>/void/", records.void, name="engine-record-void"),
    path(
        "revisions/<uuid:revision>/cancel/",
        confirmed.cancel,
        name="publication-revision-cancel",
    ),
    path(
        "revisions/<uuid:revision>/document/",
        publication_forms.add_document,
        name="publication-document-add",
    ),
    path("calendar/", calendars.calendar, name="calendar"),
    path("calendar/end/", calendars.end, name="calendar-end"),
    path(
        "calendar/<str:calendar_secret>.ics", links.calendar_feed, name="calendar-feed"
    ),
    path("hours/<str:hours_secret>/", links.hours, name="hours"),
    path("unsubscribe/<str:unsubscribe_token>/", links.unsubscribe, name="unsubscribe"),
    path("station/", station.station, name="station"),
    path("station/hooks/", hooks.hook_list, name="hook-list"),
    path("station/hooks/<uuid:hook>/secret/", hooks.renew_secret, name="hook-secret"),
    path("station/hooks/<uuid:hook>/switch/", hooks.switch, name="hook-switch"),
    path("station/hooks/<uuid:hook>/test/", hooks.send_test, name="hook-test"),
    path("station/hooks/add/", hooks.add_hook, name="hook-add"),
    path("station/people/<uuid:person>/end/", station.end_person, name="person-end"),
    path("station/people/<uuid:person>/role/", station.change_role, name="person-role"),
    path("station/people/add/", station.add_person, name="person-add"),
    path("station/settings/", station.settings, name="station-settings"),
    path(
        "station/sign-in/<uuid:owner>/<uuid:person>/end/",
        station.end_login,
        name="login-end",
    ),
    path("station/sign-in/add/", station.add_login, name="login-add"),
]
