"""The address of a feed: outside any team, for programs that cannot sign in."""

from django.urls import path

from .views import feed

urlpatterns = [path("feed/<str:token>.ics", feed.feed_file, name="feed-file")]
