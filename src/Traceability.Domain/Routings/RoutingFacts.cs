using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Routings;

/// <summary>A revision was written or rewritten; it applies to nothing until it is released. Who wrote it: <see cref="Fact.Person"/>.</summary>
public sealed record RoutingDrafted(RoutingRevision Revision) : Fact;

/// <summary>A revision was released: it can't be changed any more.</summary>
public sealed record RoutingReleased(ItemNumber Item, RevisionCode Revision, PersonCode? ReleasedBy) : Fact;

/// <summary>A second person approved a draft as it stood then. A later rewriting ends the approval.</summary>
/// <param name="Item">The item.</param>
/// <param name="Revision">The revision.</param>
/// <param name="ApprovedBy">Who approved: nobody who wrote any version of the draft.</param>
public sealed record RoutingApproved(ItemNumber Item, RevisionCode Revision, PersonCode ApprovedBy) : Fact;

/// <summary>A person decided that in an item a component may be replaced with another one that does the same: form, fit and function.</summary>
/// <param name="Item">The item whose routing takes the component.</param>
/// <param name="Replaced">The component's item as the routing names it.</param>
/// <param name="With">The item that may take its place.</param>
/// <param name="Revisions">The revisions of the routing in which it may; empty: in all.</param>
/// <param name="ValidFrom">The first moment at which it may be put in; null: from the decision on.</param>
/// <param name="Reason">Why, in words.</param>
/// <param name="AuthorisedBy">Who decided.</param>
public sealed record ReplacementDeclared(
    ItemNumber Item,
    ItemNumber Replaced,
    ItemNumber With,
    ImmutableArray<RevisionCode> Revisions,
    DateTimeOffset? ValidFrom,
    string Reason,
    PersonCode AuthorisedBy) : Fact;
