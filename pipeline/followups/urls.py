"""Addresses of what is due, of a lead's page, of follow-ups, and of letters to leads."""

from django.urls import path

from .views import buttons, consent, feed, follow_up, lead, lead_letter, plan, plan_step, start

urlpatterns = [
    path("", start.start, name="start"),
    path("leads/<int:pk>/", lead.lead, name="lead"),
    path("leads/<int:pk>/follow-up/", follow_up.follow_up_new, name="follow-up-new"),
    path("follow-ups/<int:pk>/", follow_up.follow_up, name="follow-up"),
    path("follow-ups/<int:pk>/done/", buttons.done, name="follow-up-done"),
    path("follow-ups/<int:pk>/undo/", buttons.undo, name="follow-up-undo"),
    path("follow-ups/<int:pk>/put-off/", buttons.put_off, name="follow-up-put-off"),
    path("follow-ups/<int:pk>/give/", buttons.give, name="follow-up-give"),
    path("follow-ups/<int:pk>/drop/", buttons.drop, name="follow-up-drop"),
    path("leads/<int:pk>/letter/", lead_letter.lead_letter_new, name="lead-letter-new"),
    path("lead-letters/<int:pk>/", lead_letter.lead_letter, name="lead-letter"),
    path("lead-letters/<int:pk>/send/", lead_letter.lead_letter_send, name="lead-letter-send"),
    path(
        "lead-letters/<int:pk>/remove/", lead_letter.lead_letter_remove, name="lead-letter-remove"
    ),
    path("contacts/<int:pk>/no-letters/", consent.contact_no_letters, name="contact-no-letters"),
    path("contacts/<int:pk>/agreed/", consent.contact_agreed, name="contact-agreed"),
    path("consents/<int:pk>/withdrawn/", consent.consent_withdrawn, name="consent-withdrawn"),
    path(
        "contacts/<int:pk>/letters-again/",
        consent.contact_letters_again,
        name="contact-letters-again",
    ),
    path("plan/", plan.plan, name="plan"),
    path("plan/changes/", plan.plan_changes, name="plan-changes"),
    path("plan/move/", plan.plan_move, name="plan-move"),
    path("plan/put-back/", plan.plan_put_back, name="plan-put-back"),
    path("plan/steps/new/", plan_step.plan_step_new, name="plan-step-new"),
    path("plan/steps/<int:pk>/", plan_step.plan_step, name="plan-step"),
    path("plan/steps/<int:pk>/remove/", plan_step.plan_step_remove, name="plan-step-remove"),
    path("calendar/", feed.feed, name="feed"),
    path("calendar/change/", feed.feed_change, name="feed-change"),
    path("calendar/end/", feed.feed_end, name="feed-end"),
]
