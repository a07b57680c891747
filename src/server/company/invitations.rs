//! The invitations, as the desk sees them and makes them new.

use jiff::Timestamp;

use super::{Address, Company, may_invite, who};
use crate::call::{Call, Role};
use crate::event::What;
use crate::server::deed::Deed;
use crate::server::directory::Invitation;
use crate::server::keeper::Keep;
use crate::server::qr;
use crate::server::request::{LinkId, Speaker};
use crate::wire::{InvitationView, SecureLink, ToMember};

impl Company {
    /// The desk wants the invitations.
    pub(in crate::server) fn invitations(&self, call: &Call, by: Speaker, utc: Timestamp) -> Vec<Deed> {
        match may_invite(call, by.member) {
            Ok(()) => vec![self.invitations_to(by.link, utc)],
            Err(reason) => vec![Deed::Refuse(by.link, "invitations", reason)],
        }
    }

    pub(super) fn invitations_to(&self, link: LinkId, utc: Timestamp) -> Deed {
        Deed::Say(
            link,
            Box::new(ToMember::Invitations {
                invitations: self.invitation_views(utc),
                fingerprint: self.address.fingerprint.clone(),
            }),
        )
    }

    fn invitation_views(&self, utc: Timestamp) -> Vec<InvitationView> {
        let link = |base: &str, secret: &str| format!("{base}/join#{secret}");
        let Address { base_url, secure_url, .. } = &self.address;
        // Where phones have HTTPS alone there is one link, not two.
        let secure = secure_url.as_deref().filter(|url| *url != base_url);
        let view = |(role, invitation): (Role, &Invitation)| InvitationView {
            role,
            link: link(base_url, invitation.secret.reveal()),
            qr_svg: qr::svg(&link(base_url, invitation.secret.reveal())),
            secure: secure
                .map(|base| link(base, invitation.secret.reveal()))
                .map(|link| SecureLink { qr_svg: qr::svg(&link), link }),
            joined: invitation.joined,
            until: invitation.until.to_string(),
            ran_out: utc >= invitation.until,
            closed: invitation.closed,
        };
        self.directory.invitations().map(view).collect()
    }

    /// The desk makes an invitation worthless, and with `members` those who came with it.
    pub(in crate::server) fn revoke(
        &mut self,
        call: &Call,
        (by, role, members): (Speaker, Role, bool),
        utc: Timestamp,
    ) -> Vec<Deed> {
        let renewed = may_invite(call, by.member)
            .and_then(|()| self.directory.renew(role, utc).map_err(|error| error.to_string()));
        if let Err(reason) = renewed {
            return vec![Deed::Refuse(by.link, "revoke", reason)];
        }
        let keep = Keep::Invitations(self.directory.to_keep(), by.link);
        let mut deeds = vec![Deed::Keep(keep), Deed::Note(who(call, by.member), What::Invitation { role })];
        if members {
            let reason = "Your invitation was withdrawn. Ask the stage manager for a new one.";
            for revoked in self.directory.joined_as(role).into_iter().filter(|revoked| *revoked != by.member) {
                deeds.extend(self.put_out(revoked, reason, utc));
            }
        }
        deeds.push(self.invitations_to(by.link, utc));
        deeds
    }
}
